/* Cholesky factors of small matrices, a row at a time, so that the work can be spread over grid points. Matrices are
 * square, `n` by `n`, row after row; only the lower half is read and written. */
#ifndef LINCTUS_CHOLESKY_H
#define LINCTUS_CHOLESKY_H

#include <stdint.h>

/* Row `at` of the factor L of the matrix, in its place, and entry `at` of y in L y = right, in the place of right. The
 * rows before have been done. */
void cholesky_row(double *matrix, uint32_t n, uint32_t at, double *right);

/* y in L y = x, in the place of x, for one more right side; and the sum of its squares. */
double cholesky_forward(const double *factor, uint32_t n, double *x);

/* z in L' z = y, in the place of y. */
void cholesky_back(const double *factor, uint32_t n, double *y);

#endif
