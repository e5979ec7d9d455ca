package main

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/suites/between"
	"github.com/fascia-bench/fascia/suites/demo"
	"github.com/fascia-bench/fascia/suites/demo/firmware/compile"
)

// The firmware built for other panels is walked and held against the demo's own of 320x240 and 16 bits. What comes out
// is written down here, sentence by sentence: the mapping, and what it leaves to be told.
func TestBetweenBoards(t *testing.T) {
	dir := buildBoards(t)
	t.Setenv(asCommand, "1")
	before := walkBoard(t, dir, "320")
	tests := []struct {
		board, why string
		mapped     string
		same       int
		says       []string
	}{
		{"deep", "the same pictures, with more colours than the panel of 16 bits has: nothing is left to tell",
			"After has rgb888 and before rgb565le: compared with 5, 6 and 5 bits a channel. What differs by one step of these, or by two where colours meet, cannot be compared.",
			12, nil},
		{"deep-2", "and with the upgraded drawing layer its changes are told as on one board",
			"After has rgb888 and before rgb565le: compared with 5, 6 and 5 bits a channel. What differs by one step of these, or by two where colours meet, cannot be compared.",
			7, []string{
				"Rows that were not redrawn: what was there before is still there at 82,97 (152x1), on one look.",
				"Content of #217594 is gone at 31,97 (258x79), on one look.",
				"Colour #efaa39 became #f78a5a, on 4 looks.",
				"Button text 1 px lower, on 2 looks.",
				"Corners, discs and lines drawn with other edges: anti-aliasing, on 4 looks.",
			}},
		{"square", "lists, bars and titles are as they were; what is told was shortened, wrapped, scaled or pushed together",
			"After is 240x240 and before 320x240: before is made as large, columns taken out or repeated where nothing changes along them. What is drawn anew, wrapped or cut for the size of the panel is told as changed.",
			6, []string{
				"Text is cut short at 9,65 (170x32), on one look.",
				"Content of #182821 is gone at 50,66 (7x6), on one look.",
				"162 px differ at 189,57 (25x10) and no cause can be named, on one look.",
				"98 px differ at 123,51 (22x11) and no cause can be named, on one look.",
				"87 px differ at 192,38 (35x10) and no cause can be named, on one look.",
				"Text reads differently at 17,99 (196x46), on one look.",
				"Text reads differently at 87,87 (122x88), on one look.",
				"Text reads differently at 56,119 (179x32), on one look.",
				"Text reads differently at 125,66 (68x31), on one look.",
				"Text reads differently at 19,65 (69x56), on one look.",
				"Text reads differently at 32,105 (37x16), on one look.",
				"The same 15x7 px changed alike, and no cause can be named, on 2 looks.",
				"Something new of #adcbb5 at 102,18 (36x3), on 2 looks.",
				"Text drawn with other edges: anti-aliasing, hinting or face, on 3 looks.",
				"Corners, discs and lines drawn with other edges: anti-aliasing, on 2 looks.",
			}},
		{"mono", "four lines of text instead of the screens",
			"After is 128x64 and before 320x240: another layout, of which nothing can be compared but that the look is there.",
			0, []string{"Drawn for a panel of 128x64 instead of 320x240, and not comparable with it, on 12 looks."}},
	}
	for _, tt := range tests {
		t.Run(tt.board, func(t *testing.T) {
			p, err := between.Open(before, walkBoard(t, dir, tt.board))
			if err != nil {
				t.Fatal(err)
			}
			r, err := p.Compare()
			if err != nil {
				t.Fatal(err)
			}
			var says []string
			for _, g := range r.All() {
				says = append(says, g.Says)
			}
			if len(r.Mapped) != 1 || r.Mapped[0] != tt.mapped {
				t.Errorf("mapped %q\nwant %q", r.Mapped, tt.mapped)
			}
			if r.Same != tt.same || r.Same+r.Differ() != 12 || !slices.Equal(says, tt.says) {
				t.Errorf("%d looks the same of %d, want %d: %s\n%s\nwant\n%s", r.Same, r.Same+r.Differ(), tt.same, tt.why, strings.Join(says, "\n"), strings.Join(tt.says, "\n"))
			}
		})
	}
}

// buildBoards gives a folder with the boards' benches and their twins.
func buildBoards(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	boards := filepath.Join(dir, "testdata", "boards")
	source := filepath.Join("..", "..", "suites", "demo")
	if err := os.CopyFS(boards, os.DirFS(filepath.Join(source, "testdata", "boards"))); err != nil {
		t.Fatal(err)
	}
	for _, v := range compile.Boards {
		wasm, err := compile.Build(filepath.Join(source, "firmware"), v)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, filepath.FromSlash(v.File)), wasm, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	twin, err := demo.Twin()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "fernhouse-draw-1.wasm"), twin, 0o666); err != nil {
		t.Fatal(err)
	}
	return boards
}

// walkBoard gives the folder of a run on a board, in which every look was captured.
func walkBoard(t *testing.T, dir, board string) string {
	t.Helper()
	var out, errs bytes.Buffer
	if status := run([]string{"run", "--bench", filepath.Join(dir, "bench-"+board+".yaml")}, &out, &errs); status != 1 { // nobody approved its looks
		t.Fatalf("%s: exit status %d\n%s%s", board, status, out.String(), errs.String())
	}
	_, page, _ := strings.Cut(out.String(), "report: ")
	page, _, _ = strings.Cut(page, "\n")
	return filepath.Dir(page)
}
