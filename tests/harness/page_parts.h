/* What is the same in every page: its looks, and what its buttons do. */
#ifndef LINCTUS_HARNESS_PAGE_PARTS_H
#define LINCTUS_HARNESS_PAGE_PARTS_H

/* Lines with their ends, up to NULL. */
extern const char *const page_style[];  /* CSS */
extern const char *const page_script[]; /* JavaScript */

#endif
