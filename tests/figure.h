/* Figures: what a test measured, printed beside its limit, collected into the file that LINCTUS_REPORT names.
 * A figure outside its limit fails the cmocka test it stands in. */
#ifndef LINCTUS_FIGURE_H
#define LINCTUS_FIGURE_H

/* `group` names the processor or part ("Trim"), `what` says what was measured, `source` where the limit comes from:
 * a paper or standard, "common practice", or "requirement". A limit more than 20 times as far as what is measured says
 * why behind it: "EBU Tech 3342; wide: its tolerance" (tests/limits.sh). */
void figure_at_most(const char *group, const char *what, double value, double limit, const char *unit,
                    const char *source);
void figure_at_least(const char *group, const char *what, double value, double limit, const char *unit,
                     const char *source);
void figure_within(const char *group, const char *what, double value, double expected, double tolerance,
                   const char *unit, const char *source);

/* Reported without a limit: for information. */
void figure_note(const char *group, const char *what, double value, const char *unit);

/* What depends on the machine and on what else it does: tests/EVIDENCE.md leaves it out. Without a limit, and with one.
 */
void figure_timed(const char *group, const char *what, double value, const char *unit);
void figure_here_at_most(const char *group, const char *what, double value, double limit, const char *unit,
                         const char *source);

#endif
