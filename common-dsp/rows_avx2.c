#include "rows_inside.h"

#include <stddef.h>
#include <string.h>

#define ROWS_PRODUCTS rows_products_avx2
#define ROWS_FILTER   rows_filter_avx2
#define ROWS_LAGS     rows_lags_avx2
#define ROWS_GATHER   rows_gather_avx2
#define ROWS_TWICE    rows_gather_twice_avx2
#define ROWS_SLIDE    rows_slide_avx2

#include "avx2_from_here.h"
#include "rows_kernel.h"
#include "avx2_to_here.h"
