// Package faults builds the Fernhouse firmware with a fault planted, so that what looks for faults can
// be tested on some. A fault is an edit of the sources as such a bug would be written; the sources in
// the repository, and the twins made of them, stay sound.
package faults

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"

	"github.com/fascia-bench/fascia/suites/demo/firmware/compile"
)

// A Fault is a bug, and what it does to the device.
type Fault struct {
	Name string
	// Says is the fault in a sentence.
	Says  string
	edits []edit
}

// An edit puts one text in the place of another, which the file must hold exactly once.
type edit struct{ file, old, new string }

// All are the faults that can be planted.
var All = []Fault{
	{"stale-row", "a row of the settings keeps its old pixels when they are opened from the languages, and only then", []edit{
		{"ui.c", "void ui_go(const ui_screen *s) {\n\tui_slide(s);\n\tdraw_dirty_all();", `void ui_go(const ui_screen *s) {
	const ui_screen *from = open;
	ui_slide(s);
	if (from && text_same(from->name, "language") && text_same(s->name, "settings")) {
		draw_dirty_add(0, 0, FERN_W, 65);
		draw_dirty_add(0, 66, FERN_W, FERN_H - 66);
		return;
	}
	draw_dirty_all();`}}},
	{"leak", "each visit of the day chart takes 200 bytes of the heap and gives none back", []edit{
		{"scr_chart.c", "#include \"fern.h\"\n", "#include \"fern.h\"\n#include \"heap.h\"\n"},
		{"scr_chart.c", "static void enter(void) { cursor = -1; }", "static void enter(void) {\n\tcursor = -1;\n\t(void)heap_take(200);\n}"}}},
	{"crash", "the third wrong pairing code crashes the device", []edit{
		{"scr_pair.c", "\t\tsay(STR_CODE_WRONG);\n", "\t\tstatic int wrong;\n\t\tif (++wrong == 3)\n\t\t\tfern_crash(\"too many codes\");\n\t\tsay(STR_CODE_WRONG);\n"}}},
	{"endless", "the about screen draws its last row again without end", []edit{
		{"scr_about.c", "\tif (what & TOLD_STATUS)\n", "\tif (what & (TOLD_STATUS | TOLD_CLOCK))\n"}}},
	{"road", "once the day chart was left, titles stand a pixel further right", []edit{
		{"draw/text.c", "void draw_text_in(", "int draw_text_drift;\n\nvoid draw_text_in("},
		{"draw/text.c", "align == DRAW_LEFT ? box.x : align == DRAW_RIGHT ? box.x + box.w - w : box.x + (box.w - w) / 2,\n\t\t\tbase, s, c);",
			"align == DRAW_LEFT ? box.x + (f == &draw_font_title ? draw_text_drift : 0) :\n\t\t\talign == DRAW_RIGHT ? box.x + box.w - w : box.x + (box.w - w) / 2, base, s, c);"},
		{"ui.c", "\tif (open) { /* what was pressed", "\textern int draw_text_drift;\n\tif (open && text_same(open->name, \"chart\"))\n\t\tdraw_text_drift = 1;\n\tif (open) { /* what was pressed"}}},
	{"overflow", "the season reminder's second button is too narrow for its German word, which is drawn over its edge", []edit{
		{"scr_season.c", "164, FERN_W / 2 - 36, 44", "164, id == LATER ? FERN_W / 2 - 36 : 62, 44"},
		{"draw/widget.c", "\tdraw_text_in(&draw_font_title, r, DRAW_CENTRE, label, ink);\n}\n\nstatic void draw_label",
			"\tdraw_text(&draw_font_title, r.x + (r.w - draw_text_width(&draw_font_title, label)) / 2,\n\t\tr.y + (r.h + draw_font_title.capital) / 2, label, ink);\n}\n\nstatic void draw_label"}}},
	{"low-contrast", "the alarm's advice is in the colour of separators", []edit{
		{"scr_alarm.c", "tr(STR_HEAT_DO + model.alarm - ALARM_HEAT), C_INK);", "tr(STR_HEAT_DO + model.alarm - ALARM_HEAT), C_RULE);"}}},
	// No screen by itself shows these: the agent answers while the user interface draws nothing.
	{"numb", "once the air is said to be as dry as 1 percent, nothing is drawn any more", []edit{
		{"fern.c", "\tif (!draw_dirty_pending())\n\t\treturn;\n", "\tif (!draw_dirty_pending() || model.humidity == 1)\n\t\treturn;\n"}}},
	{"numb-from-birth", "nothing is ever drawn", []edit{
		{"fern.c", "\tif (!draw_dirty_pending())\n\t\treturn;\n", "\tif (!draw_dirty_pending() || model.humidity >= 0)\n\t\treturn;\n"}}},
}

// find returns the fault of a name.
func find(name string) (Fault, error) {
	for _, f := range All {
		if f.Name == name {
			return f, nil
		}
	}
	return Fault{}, fmt.Errorf("there is no fault %q", name)
}

// A Builder makes twins of the firmware in a folder, drawn by draw-1.
type Builder struct {
	firmware string
	sound    *compile.Objects
}

// New compiles the sound firmware into dir, an absolute path.
func New(firmware, dir string) (*Builder, error) {
	o, err := compile.Compile(firmware, dir, []string{"-DDRAW_MAJOR=1"}, "faults")
	return &Builder{firmware, o}, err
}

// Sound is a twin without any fault.
func (b *Builder) Sound() ([]byte, error) { return b.sound.Link(nil) }

// Plant is a twin with the fault of a name.
func (b *Builder) Plant(name string) ([]byte, error) {
	f, err := find(name)
	if err != nil {
		return nil, err
	}
	texts := map[string][]byte{}
	for _, e := range f.edits {
		text, ok := texts[e.file]
		if !ok {
			var err error
			if text, err = os.ReadFile(filepath.Join(b.firmware, e.file)); err != nil {
				return nil, err
			}
			text = bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n"))
		}
		if n := bytes.Count(text, []byte(e.old)); n != 1 {
			return nil, fmt.Errorf("plant %s: %s holds the text to change %d times, not once: %q", f.Name, e.file, n, e.old)
		}
		texts[e.file] = bytes.Replace(text, []byte(e.old), []byte(e.new), 1)
	}
	return b.sound.Link(texts)
}
