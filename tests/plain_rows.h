/* The loops of rows.h once more, without vectors: what a compiler gets that has none. */
#ifndef LINCTUS_PLAIN_ROWS_H
#define LINCTUS_PLAIN_ROWS_H

#include "rows_inside.h"

RowsProducts plain_rows_products;
RowsFilter plain_rows_filter;
RowsLags plain_rows_lags;
RowsGather plain_rows_gather;
RowsSlide plain_rows_slide;

#endif
