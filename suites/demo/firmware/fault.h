/* Faults that a build can be given on purpose, so that a test of a test has something to find.
 * Each is a macro, off unless the compiler is told otherwise (-DFERN_FAULT_...); the code that
 * acts on it stands where such a bug would sit in real firmware. */
#ifndef FERN_FAULT_H
#define FERN_FAULT_H

/* FERN_FAULT_PANIC: opening the alarm screen trips an assertion and the device restarts. */

#endif
