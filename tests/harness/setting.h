/* A control as it stood, in words: its value, who set it, and if it was in force at all. */
#ifndef LINCTUS_HARNESS_SETTING_H
#define LINCTUS_HARNESS_SETTING_H

#include "report.h"

/* "300 Hz, the preset's"; behind it "; by hand, not in use" where what was found stood in its place. take: within the
 * report. The port is one of the stage's controls. */
void setting_text(const Report *r, const StageResult *s, uint32_t take, const Port *port, char *text, size_t size);

#endif
