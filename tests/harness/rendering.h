/* The program `render` as a function, for the program itself and for tests that run it a thousand times. */
#ifndef LINCTUS_HARNESS_RENDERING_H
#define LINCTUS_HARNESS_RENDERING_H

#include <stdio.h>

/* Arguments as main() gets them; tables go to `out`, what goes wrong to `err`: one line. Returns the exit status
 * (error.h). A terminal is shown progress; SIGINT, SIGTERM and SIGHUP end the run from here on. */
int render_run(int argc, char **argv, FILE *out, FILE *err);

#endif
