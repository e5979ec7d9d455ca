package handbook

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/yuin/goldmark"
	"golang.org/x/net/html"

	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/demo"
)

// demoBook is the guide to the demo's device.
func demoBook(t *testing.T) (*Book, *suites.Plan, string) {
	t.Helper()
	dir := t.TempDir()
	if err := demo.Unpack(dir); err != nil {
		t.Fatal(err)
	}
	plan, err := suites.Prepare(filepath.Join(dir, demo.BenchFile), nil)
	if err != nil {
		t.Fatal(err)
	}
	b, err := Read(plan, "Fernhouse")
	if err != nil {
		t.Fatal(err)
	}
	return b, plan, dir
}

// hrefs lists what a page refers to, and the places in it that can be referred to.
func hrefs(t *testing.T, page []byte) (refs []string, ids map[string]bool) {
	t.Helper()
	ids = map[string]bool{}
	root, err := html.Parse(bytes.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	for n := range root.Descendants() {
		for _, a := range n.Attr {
			switch a.Key {
			case "href", "src":
				refs = append(refs, a.Val)
			case "id":
				if ids[a.Val] {
					t.Errorf("the ID %q stands twice", a.Val)
				}
				ids[a.Val] = true
			}
		}
	}
	return refs, ids
}

// Every link leads to a file that is there and a place in it, and every page and picture is reached from the
// first page.
func TestNoLinkIsBroken(t *testing.T) {
	b, _, dir := demoBook(t)
	out := filepath.Join(dir, "handbook")
	if err := b.Write(out); err != nil {
		t.Fatal(err)
	}
	reached := map[string]bool{}
	places := map[string]map[string]bool{}
	links := map[string][]string{}
	var visit func(name string)
	visit = func(name string) {
		if reached[name] {
			return
		}
		reached[name] = true
		data, err := os.ReadFile(filepath.Join(out, filepath.FromSlash(name)))
		if err != nil {
			t.Errorf("%v", err)
			return
		}
		if path.Ext(name) != ".html" {
			return
		}
		links[name], places[name] = hrefs(t, data)
		for _, ref := range links[name] {
			u, err := url.Parse(ref)
			if err != nil {
				t.Errorf("%s: %v", name, err)
			} else if u.Scheme == "" && u.Path != "" {
				visit(path.Join(path.Dir(name), u.Path))
			} else if u.Scheme != "" && u.Scheme != "data" {
				t.Errorf("%s refers to %s, which is not in the folder", name, ref)
			}
		}
	}
	visit(IndexFile)
	n := 0
	for name, refs := range links {
		for _, ref := range refs {
			if u, err := url.Parse(ref); err == nil && u.Fragment != "" {
				n++
				if to := path.Join(path.Dir(name), u.Path); u.Path != "" && !places[to][u.Fragment] {
					t.Errorf("%s refers to %s, where there is no such place", name, ref)
				}
			}
		}
	}
	if n < len(b.Views) {
		t.Errorf("%d links into pages for %d views", n, len(b.Views))
	}
	err := fs.WalkDir(os.DirFS(out), ".", func(p string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && !reached[p] && p != MarkdownFile && p != MapFile {
			t.Errorf("nothing leads to %s", p)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// Each screen is come to from power-on, in views and on the map, and its road begins there.
func TestEachScreenIsReachable(t *testing.T) {
	b, _, _ := demoBook(t)
	depth := b.depths()
	for _, s := range b.Screens {
		if _, ok := depth[s]; !ok {
			t.Errorf("no way leads to screen %s", s.Name)
		}
		v := s.Easiest()
		if v == nil {
			t.Errorf("screen %s has no view", s.Name)
			continue
		}
		road := v.Road()
		if road[0].Before != nil || road[len(road)-1].Screen != s {
			t.Errorf("the road to %s does not lead there from power-on", s.Name)
		}
	}
	// The demo's firmware has these (suites/demo/firmware, scr_*.c); all are walked to.
	for _, name := range []string{"splash", "season", "home", "panel", "sensors", "pair", "search", "schedule", "chart", "alarm", "language", "about", "settings", "name"} {
		if b.called(name) == nil {
			t.Errorf("screen %s is not in the handbook", name)
		}
	}
	if want := []string{"", "de", "es", "fr"}; !slices.Equal(b.Languages, want) {
		t.Errorf("languages %q, want %q", b.Languages, want)
	}
}

// Where a finger is drawn, the screen is shown on which it touches.
func TestMarksAreOnTheirScreen(t *testing.T) {
	b, _, _ := demoBook(t)
	n := 0
	for _, v := range b.Views {
		for _, w := range v.Ways {
			n++
			if w.From != v.Screen || w.At != v {
				t.Errorf("the way to %s is drawn on %s / %s", w.To.Name, v.Walk, v.Look)
			}
		}
	}
	if n < 10 {
		t.Errorf("only %d ways are drawn", n)
	}
}

// Boxes of the map do not overlap, lines run from left to right, and the SVG is well-formed.
func TestMap(t *testing.T) {
	b, _, _ := demoBook(t)
	boxes, courses, wide, high := b.layout(78)
	for i, x := range boxes {
		if x.x < 0 || x.y < 0 || x.x+x.w > wide || x.y+x.h > high {
			t.Errorf("box %d lies off the map", i)
		}
		for _, y := range boxes[:i] {
			if x.x < y.x+y.w && y.x < x.x+x.w && x.y < y.y+y.h && y.y < x.y+x.h {
				t.Errorf("two boxes overlap at %.0f,%.0f and %.0f,%.0f", x.x, x.y, y.x, y.y)
			}
		}
	}
	for _, c := range courses {
		for i := 1; i < len(c.boxes) && !c.loopsAside; i++ {
			if c.boxes[i].col != c.boxes[i-1].col+1 {
				t.Errorf("a line leaps from column %d to %d", c.boxes[i-1].col, c.boxes[i].col)
			}
		}
	}
	svg := b.drawMap(true)
	d := xml.NewDecoder(strings.NewReader(svg))
	for {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	if again := b.drawMap(true); again != svg {
		t.Error("the map is another one each time")
	}
}

// Names come from strangers' walks: in Markdown they are text.
func TestMarkdown(t *testing.T) {
	b, _, _ := demoBook(t)
	hostile := `<script>x</script> [a](b) *c* _d_ # e ` + "`f`"
	b.Views[0].Note = hostile
	var out bytes.Buffer
	if err := goldmark.Convert([]byte(b.markdown()), &out); err != nil {
		t.Fatal(err)
	}
	root, err := html.Parse(&out)
	if err != nil {
		t.Fatal(err)
	}
	text, shown := "", 0
	for n := range root.Descendants() {
		if n.Type == html.TextNode {
			text += n.Data
		}
		if n.Data == "img" {
			shown++
		}
		if n.Data == "script" || n.Data == "em" {
			t.Errorf("a note became <%s>", n.Data)
		}
	}
	if !strings.Contains(text, hostile) {
		t.Error("a note is not shown as it was written")
	}
	if shown != len(b.Views)+1 {
		t.Errorf("%d pictures, want the map and %d", shown, len(b.Views))
	}
}

func TestWriteLeavesOthersAlone(t *testing.T) {
	b, _, dir := demoBook(t)
	if err := b.Write(dir); err == nil || !strings.Contains(err.Error(), "something else") {
		t.Errorf("written over a folder of other things: %v", err)
	}
	out := filepath.Join(dir, "handbook")
	for range 2 { // the second takes the place of the first
		if err := b.Write(out); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(out, "screen-gone.html"), nil, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	if err := b.Write(out); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(out, "screen-gone.html")); err == nil {
		t.Error("a page of an earlier handbook was left")
	}
}

func TestGaps(t *testing.T) {
	b, plan, dir := demoBook(t)
	// The schedule's walk alone rolls the wheel.
	plan.Walks = slices.DeleteFunc(plan.Walks, func(w *suites.Walk) bool { return w.Name == "schedule" })
	gaps := b.Gaps(plan, Offers{
		Hello: link.Hello{Can: 1<<link.TouchDown | 1<<link.Roll},
		Keys:  []link.Item{{Name: "enter", Value: "7:40"}, {Name: "left", Value: "7:80"}},
		Feeds: []link.Item{{Name: "alarm"}, {Name: "wind"}},
	})
	want := "[{input the wheel is never rolled} {key key left is never pressed} {feed value wind is never fed}]"
	if got := fmt.Sprint(gaps); got != want {
		t.Errorf("gaps %v, want %v", got, want)
	}
	known := b.Views[0].Pictures[0].Entry.SHA256
	file := filepath.Join(dir, "map.json")
	chart := fmt.Sprintf(`{"wander": 1, "screens": [
		{"screen": "s1", "picture": "s1.png", "name": "home", "pixels": "00", "targets": [{"name": "settings", "x": 240, "y": 190, "w": 80, "h": 50}, {"name": "logo", "x": 0, "y": 0, "w": 9, "h": 9}]},
		{"screen": "s2", "picture": "s2.png", "pixels": "01", "others": [%q]},
		{"screen": "s3", "picture": "s3.png", "pixels": "02", "road": ["tap 1,1", "turn +1"]}]}`, known)
	if err := os.WriteFile(file, []byte(chart), 0o666); err != nil {
		t.Fatal(err)
	}
	gaps, err := b.GapsOnMap(file)
	want = "[{touch logo on screen home is never touched} {screen screen s3 is not in any walk; one gets there by: tap 1,1, turn +1}]"
	if got := fmt.Sprint(gaps); err != nil || got != want {
		t.Errorf("gaps %v, %v, want %v", got, err, want)
	}
	for _, bad := range []string{"{", `{"wander": 2}`, "[]"} {
		if err := os.WriteFile(file, []byte(bad), 0o666); err != nil {
			t.Fatal(err)
		}
		if _, err := b.GapsOnMap(file); err == nil || !strings.Contains(err.Error(), "map.json") {
			t.Errorf("map %q: %v", bad, err)
		}
	}
}

// A second target's goldens stand beside the first's, and without any golden there is no guide.
func TestTargets(t *testing.T) {
	b, plan, _ := demoBook(t)
	v := b.Views[0]
	_, err := plan.Store.Approve([]golden.Approval{{Target: "fernhouse-480", Walk: v.Walk, Look: v.Look, Picture: v.Pictures[0].img, Who: "ada", Why: "wide", When: time.Now()}})
	if err != nil {
		t.Fatal(err)
	}
	if b, err = Read(plan, ""); err != nil {
		t.Fatal(err)
	}
	if len(b.Targets) != 2 || b.Views[0].Pictures[1].img == nil || b.Views[1].Pictures[1].img != nil {
		t.Errorf("targets %v", b.Targets)
	}
	if err := os.RemoveAll(filepath.Join(plan.Bench.Dir, suites.GoldenDir)); err != nil {
		t.Fatal(err)
	}
	if plan.Store, err = golden.Open(filepath.Join(plan.Bench.Dir, suites.GoldenDir)); err != nil {
		t.Fatal(err)
	}
	if _, err := Read(plan, ""); err == nil || !strings.Contains(err.Error(), "approve") {
		t.Errorf("a handbook without goldens: %v", err)
	}
}
