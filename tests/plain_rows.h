/* The loops of rows.h once more, without vectors: what a compiler gets that has none. */
#ifndef LINCTUS_PLAIN_ROWS_H
#define LINCTUS_PLAIN_ROWS_H

#include "rows_inside.h"

RowsProducts plain_rows_products;
RowsFilter plain_rows_filter;
RowsLags plain_rows_lags;
RowsGather plain_rows_gather;
RowsTwice plain_rows_gather_twice;
RowsSlide plain_rows_slide;

/* rows.h itself, where wide.h is told that there are no wider vectors: narrow_rows.c. */
RowsProducts narrow_rows_products;
RowsFilter narrow_rows_filter;
RowsLags narrow_rows_lags;
RowsGather narrow_rows_gather;
RowsTwice narrow_rows_gather_twice;
RowsSlide narrow_rows_slide;

#endif
