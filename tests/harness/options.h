/* The command line of `render`. */
#ifndef LINCTUS_HARNESS_OPTIONS_H
#define LINCTUS_HARNESS_OPTIONS_H

#include "stage.h"

#include <stdio.h>

typedef struct {
    bool help, list, advise;
    bool together, apart, is_float;
    const char *bundle; /* NULL: the one beside the program */
    const char *voice;  /* "none": none; NULL: the one that is heard */
    const char *preset; /* name of the preset bundle to write; NULL: none */
    Setting *set;
    uint32_t sets;
    char (*stage)[64]; /* names, in the order of the chain */
    uint32_t stages;
    const char **in;
    uint32_t ins;
    const char *out; /* NULL with help, list or advise */
} Options;

/* Texts point into argv. Always followed by options_free(). */
bool options_read(Options *o, int argc, char **argv, Error *e);
void options_free(Options *o);

void options_help(FILE *to);

#endif
