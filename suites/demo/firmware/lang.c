/* The table behind tr: one row a text, one column a language. */
#include "lang.h"

#include "model.h"

#define LANG_ROW(id, en, de, fr, es) {en, de, fr, es},
static const char *const texts[STR_COUNT][LANG_COUNT] = {LANG_TEXTS(LANG_ROW)};

const char *tr_in(int language, int id) { return texts[id][language]; }

const char *tr(int id) { return texts[id][model.language]; }
