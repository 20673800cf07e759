/* rows.c once more, as a machine without wider vectors gets it: what is called there are the vectors of four. */
#define WIDE_OFF

#define rows_products          narrow_rows_products
#define rows_filter            narrow_rows_filter
#define rows_lags              narrow_rows_lags
#define rows_gather            narrow_rows_gather
#define rows_gather_twice      narrow_rows_gather_twice
#define rows_slide             narrow_rows_slide
#define rows_products_four     narrow_rows_products_four
#define rows_filter_four       narrow_rows_filter_four
#define rows_lags_four         narrow_rows_lags_four
#define rows_gather_four       narrow_rows_gather_four
#define rows_gather_twice_four narrow_rows_gather_twice_four
#define rows_slide_four        narrow_rows_slide_four

#include "rows.c"
