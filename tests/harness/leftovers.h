/* Hidden files that a run left in a folder because it was killed (SIGKILL, a power cut) and could not take them away.
 * Every run that writes into a folder holds a lock on it that ends with the process, however that ends; so where nobody
 * else holds one, no hidden file there belongs to a run that goes on. Nothing is deleted here: it is told. */
#ifndef LINCTUS_HARNESS_LEFTOVERS_H
#define LINCTUS_HARNESS_LEFTOVERS_H

#include <stdint.h>
#include <stdio.h>

enum { LEFTOVERS_NAMED = 4 };

typedef struct {
    int lock; /* a handle; 0: none */
    char name[LEFTOVERS_NAMED][16];
    uint32_t files; /* found; the first of them are named */
} Leftovers;

/* Looks what lies in the folder, then holds the lock on it. Call it before anything is written there. Where locks do
 * not work, as on some shares, nothing is found. */
void leftovers_look(Leftovers *l, const char *folder);

/* A line about them, with what to type, in which file names are quoted for a shell; nothing where there are none. */
void leftovers_tell(const Leftovers *l, const char *folder, FILE *to);

/* Lets the folder go; safe on a zeroed struct, and twice. */
void leftovers_free(Leftovers *l);

#endif
