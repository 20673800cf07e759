/* Where saved presets lie: in a folder that was named, or with the user's plug-ins. */
#ifndef LINCTUS_HARNESS_SAVED_H
#define LINCTUS_HARNESS_SAVED_H

#include "error.h"

#include <stdbool.h>
#include <stddef.h>

/* ~/.lv2/NAME, the folder that hosts look in for what the user installed. A NAME has no folders in it. */
bool saved_home(const char *name, char *path, size_t size, Error *e);

/* Makes ~/.lv2 where it is missing. */
bool saved_make_home(Error *e);

/* The bundle that NAME stands for: NAME or NAME.lv2 from here, else NAME.lv2 in ~/.lv2. */
bool saved_find(const char *name, char *path, size_t size, Error *e);

/* Is there a preset of this plug-in in a bundle that saved_find() found? */
bool saved_holds(const char *folder, const char *plugin);

#endif
