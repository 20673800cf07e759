#include "smoothest.h"

void smoothest(double *value, double *const *band, uint32_t n, int order, double stiff)
{
    static const double difference[SMOOTHEST_ORDER + 1][SMOOTHEST_ORDER + 1] = {
        {1.0}, {1.0, -1.0}, {1.0, -2.0, 1.0}, {1.0, -3.0, 3.0, -1.0}};
    for (uint32_t i = 0; i < n; ++i)
        value[i] *= band[0][i];
    for (uint32_t i = 0; i + (uint32_t)order < n; ++i)
        for (int a = 0; a <= order; ++a)
            for (int b = 0; b <= a; ++b)
                band[a - b][i + (uint32_t)b] += stiff * difference[order][a] * difference[order][b];
    for (uint32_t j = 0; j < n; ++j)
        for (int a = 1; a <= order && j + (uint32_t)a < n; ++a) {
            const double part = band[a][j] / band[0][j];
            for (int c = a; c <= order && j + (uint32_t)c < n; ++c)
                band[c - a][j + (uint32_t)a] -= part * band[c][j];
            value[j + (uint32_t)a] -= part * value[j];
        }
    for (uint32_t j = n; j-- > 0;) {
        value[j] /= band[0][j];
        for (int a = 1; a <= order && j + (uint32_t)a < n; ++a)
            value[j] -= band[a][j] / band[0][j] * value[j + (uint32_t)a];
    }
}
