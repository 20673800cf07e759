#include "plain_rows.h"

#define FLOATS 4
#define FLOATS_PLAIN
#define ROWS_PRODUCTS plain_rows_products
#define ROWS_FILTER   plain_rows_filter
#define ROWS_LAGS     plain_rows_lags
#define ROWS_GATHER   plain_rows_gather
#define ROWS_TWICE    plain_rows_gather_twice
#define ROWS_SLIDE    plain_rows_slide

#include "rows_kernel.h"
