/* The look of the widgets: colours by their role, and the grid of 4 pixels. */
#ifndef DRAW_THEME_H
#define DRAW_THEME_H

#include "draw.h"

#define C_DEEP DRAW_RGB(0x12, 0x36, 0x2B)   /* splash, panel edge */
#define C_FERN DRAW_RGB(0x1D, 0x50, 0x3F)   /* bars, headings */
#define C_FROND DRAW_RGB(0x3F, 0x82, 0x5F)  /* focus, switched on, icons */
#define C_MOSS DRAW_RGB(0xA9, 0xC9, 0xB0)   /* text of second rank on dark */
#define C_DEW DRAW_RGB(0xE1, 0xEC, 0xDE)    /* pressed, tinted areas */
#define C_PAPER DRAW_RGB(0xF5, 0xF0, 0xE2)  /* background */
#define C_CARD DRAW_RGB(0xFF, 0xFD, 0xF6)   /* raised areas, rows */
#define C_INK DRAW_RGB(0x1B, 0x2B, 0x24)    /* text */
#define C_STONE DRAW_RGB(0x66, 0x70, 0x66)  /* text of second rank */
#define C_RULE DRAW_RGB(0xDD, 0xD6, 0xC4)   /* separators, empty tracks */
#define C_ALERT DRAW_RGB(0xA5, 0x2A, 0x22)  /* alarm, wrong */
#define C_WARM DRAW_RGB(0xC2, 0x4E, 0x2C)   /* temperature */
#define C_MIST DRAW_RGB(0x27, 0x76, 0x96)   /* humidity, water */

/* What asks to be touched or is being entered. Dark text stands on it. */
#if DRAW_MAJOR >= 2
#define C_ACCENT DRAW_RGB(0xF0, 0x8A, 0x5A)
#else
#define C_ACCENT DRAW_RGB(0xEB, 0xAA, 0x3C)
#endif

#define BAR_H 24    /* status bar */
#define HEADER_H 40 /* header of a screen below home */

#endif
