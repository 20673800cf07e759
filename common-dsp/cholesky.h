/* Cholesky factors of small matrices, a row at a time, so that the work can be spread over grid points. Matrices are
 * `n` by `n`, stored by rows; only the lower half is read and written. */
#ifndef LINCTUS_CHOLESKY_H
#define LINCTUS_CHOLESKY_H

#include <stdint.h>

/* Replaces row `at` of the matrix by that row of its factor L, and right[at] by entry `at` of y in L y = right. The
 * rows before have to be done. */
void cholesky_row(double *matrix, uint32_t n, uint32_t at, double *right);

/* Replaces x by y in L y = x, for another right side. Returns the sum of the squares of y. */
double cholesky_forward(const double *factor, uint32_t n, double *x);

/* Replaces y by z in L' z = y. */
void cholesky_back(const double *factor, uint32_t n, double *y);

#endif
