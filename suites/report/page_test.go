package report

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/suites/record"
)

func pageOf(t testing.TB, f *folder) string {
	t.Helper()
	if err := Page(f.dir, f.run); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(filepath.Join(f.dir, PageFile))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

var dataURI = regexp.MustCompile(`data:image/png;base64,[A-Za-z0-9+/=]+`)

// The style and the pictures' bytes are left out: the one is kept in page.css, the others change
// with the compressor of the standard library.
func TestPageText(t *testing.T) {
	page := pageOf(t, mixed(t))
	wellFormed(t, page)
	page = strings.Replace(page, pageCSS, "/* page.css */", 1)
	checkGolden(t, "mixed.html", dataURI.ReplaceAllString(page, "data:image/png;base64,PICTURE"))
}

func TestMissingPictures(t *testing.T) {
	tests := []struct {
		name, path, says string
		make             func(dir string) error
	}{
		{"gone", "looks/gone.png", "the file is missing: looks/gone.png", nil},
		{"outside", "../outside.png", "the file cannot be read: ../outside.png", func(dir string) error {
			return os.WriteFile(filepath.Join(dir, "..", "outside.png"), []byte("secret"), 0o666)
		}},
		{"folder", "looks", "read", nil},
		{"no picture", "notes.txt", "not a picture that can be read", func(dir string) error {
			return os.WriteFile(filepath.Join(dir, "notes.txt"), []byte("no picture at all"), 0o666)
		}},
		{"no path", "", "no picture", nil},
		{"cut off", "cut.png", "truncated picture", func(dir string) error {
			file := fileOf(panelOf(64, 48, 1))
			return os.WriteFile(filepath.Join(dir, "cut.png"), file[:len(file)-20], 0o666)
		}},
		{"a bit fallen over", "fallen.png", "damaged picture", func(dir string) error {
			file := fileOf(panelOf(64, 48, 1))
			file[bytes.Index(file, []byte("IDAT"))+9] ^= 4
			return os.WriteFile(filepath.Join(dir, "fallen.png"), file, 0o666)
		}},
		{"pixels missing", "hollow.png", "damaged picture", func(dir string) error {
			file := fileOf(panelOf(64, 48, 1))
			hollow := append(file[:bytes.Index(file, []byte("IDAT"))-4:bytes.Index(file, []byte("IDAT"))-4], file[len(file)-12:]...)
			return os.WriteFile(filepath.Join(dir, "hollow.png"), hollow, 0o666)
		}},
		{"end missing", "end.png", "truncated picture", func(dir string) error {
			file := fileOf(panelOf(64, 48, 1))
			return os.WriteFile(filepath.Join(dir, "end.png"), file[:bytes.Index(file, []byte("IDAT"))-4], 0o666)
		}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			f := mixed(t)
			if tt.make != nil {
				if err := tt.make(f.dir); err != nil {
					t.Fatal(err)
				}
			}
			for i := range f.run.Looks {
				f.run.Looks[i].Capture, f.run.Looks[i].Golden = tt.path, tt.path
			}
			page := pageOf(t, f)
			wellFormed(t, page)
			if !strings.Contains(page, tt.says) || !strings.Contains(page, `class="screen void`) {
				t.Errorf("no box says %q", tt.says)
			}
			if strings.Contains(page, "<image") {
				t.Error("a picture from nowhere")
			}
			if _, err := Trail(f.dir, f.run, "home"); err != nil {
				t.Error(err)
			}
		})
	}
}

// fileOf is a picture as a run keeps it.
func fileOf(m image.Image) []byte {
	var b bytes.Buffer
	if err := picture.EncodePNG(&b, m); err != nil {
		panic(err)
	}
	return b.Bytes()
}

func TestFolderMissing(t *testing.T) {
	gone := filepath.Join(t.TempDir(), "gone")
	for name, err := range map[string]error{"page": Page(gone, &record.Run{}), "junit": JUnit(gone, &record.Run{})} {
		if !errors.Is(err, fs.ErrNotExist) || !strings.Contains(err.Error(), gone) {
			t.Errorf("%s: %v, want fs.ErrNotExist that names the folder", name, err)
		}
	}
	if _, err := Trail(gone, &record.Run{}, "home"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("trail: %v", err)
	}
}

// One picture serves every place in which its pixels are shown.
func TestPicturesOnce(t *testing.T) {
	f := newFolder(t)
	for i := range 10 {
		f.look("home", fmt.Sprint(i), panelOf(64, 48, 1), panelOf(64, 48, 1))
	}
	f.look("home", "other", panelOf(64, 48, 1), panelOf(64, 48, 2))
	if got := strings.Count(pageOf(t, f), "<image "); got != 2 {
		t.Errorf("%d pictures embedded, want 2: all looks but one are alike, and they are its golden", got)
	}
}

// A screen that is passed on many ways is told once.
func TestSameFindingOnce(t *testing.T) {
	f := newFolder(t)
	for i := range 3 {
		f.look("home", fmt.Sprintf("visit %d", i), panelOf(64, 48, 1), panelOf(64, 48, 2))
	}
	page := pageOf(t, f)
	wellFormed(t, page)
	if got := strings.Count(page, `class="plate"`); got != 1 {
		t.Errorf("%d plates for one finding", got)
	}
	if !strings.Contains(page, "The very same at") {
		t.Error("the others are not named")
	}
}

// A page of 100 looks of 320x240 stays under 3 MB, even where every look differs, so that golden and
// capture are both embedded. The pictures are larger than any of the demo's, which take 6310 bytes at most.
func TestPageSize(t *testing.T) {
	f := newFolder(t)
	for i := range 100 {
		var regions []compare.Region
		for j := range 25 {
			box := image.Rect(0, 0, 9, 7).Add(image.Pt(j%5*64+i%50, j/5*48+i/3))
			regions = append(regions, compare.Region{X: box.Min.X, Y: box.Min.Y, W: 9, H: 7, Cause: []string{"edges", "text", "missing"}[j%3], Confidence: 0.9,
				Says: fmt.Sprintf("Only the edges at %v are drawn differently: anti-aliasing or hinting.", box)})
		}
		f.finding("home", fmt.Sprint(i), noisy(2*i), noisy(2*i+1), regions...).Path = []record.Input{{Says: "tap 160,120", Points: [][2]int{{160, 120}}}}
	}
	one, err := os.Stat(filepath.Join(f.dir, "looks", "0.png"))
	if err != nil {
		t.Fatal(err)
	}
	if one.Size() < 6310 {
		t.Fatalf("pictures of %d bytes show nothing", one.Size())
	}
	got := len(pageOf(t, f))
	t.Logf("%d bytes for 100 looks whose pictures take %d bytes each", got, one.Size())
	if got >= 3_000_000 {
		t.Errorf("%d bytes", got)
	}
}

func TestPageReplacesWhole(t *testing.T) {
	f := mixed(t)
	path := filepath.Join(f.dir, PageFile)
	if err := os.WriteFile(path, bytes.Repeat([]byte("before "), 1e6), 0o666); err != nil {
		t.Fatal(err)
	}
	if page := pageOf(t, f); strings.Contains(page, "before before") || !strings.HasSuffix(page, "</html>\n") {
		t.Error("something of the old file is left")
	}
	entries, err := os.ReadDir(f.dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), ".") {
			t.Errorf("%s was left behind", e.Name())
		}
	}
}

func TestVerdict(t *testing.T) {
	look := func(v ...record.Verdict) (out []record.Look) {
		for _, x := range v {
			out = append(out, record.Look{Walk: "home", Verdict: x})
		}
		return out
	}
	met, missed := record.Expectation{Result: record.Met}, record.Expectation{Result: record.Missed}
	ended := time.Date(2031, 5, 4, 9, 30, 3, 0, time.UTC)
	tests := []struct {
		name string
		run  record.Run
		want string
	}{
		{"nothing", record.Run{Ended: ended}, "There is no verdict: nothing was looked at."},
		{"one", record.Run{Ended: ended, Looks: look("same")}, "The one look is the same as its golden."},
		{"all", record.Run{Ended: ended, Looks: look("same", "same"), Expectations: []record.Expectation{met, met}}, "All 2 looks are the same as their goldens, and all 2 expectations were met."},
		{"expectations only", record.Run{Ended: ended, Expectations: []record.Expectation{met}}, "No look was taken, and the one expectation was met."},
		{"differs", record.Run{Ended: ended, Looks: look("same", "differs")}, "1 of 2 looks differs from its golden."},
		{"unapproved", record.Run{Ended: ended, Looks: look("unapproved", "unapproved")}, "2 of 2 looks have no golden yet."},
		{"everything", record.Run{Ended: ended, Looks: look("same", "differs", "differs", "unapproved"), Expectations: []record.Expectation{met, missed}},
			"2 of 4 looks differ from their goldens, 1 has no golden yet, and 1 of 2 expectations was missed."},
		{"blind", record.Run{Ended: ended, Looks: look("differs", "no-capture", "not-reached"), Walks: []record.Walk{{Walk: "home", Looks: 3, Why: "the device restarted"}}},
			"There is no verdict on 2 of 3 looks, as 1 walk broke off; besides, 1 of 3 looks differs from its golden."},
		{"cut off", record.Run{Looks: look("same", "differs"), Walks: []record.Walk{{Walk: "home", Looks: 5}}},
			"The run was cut off after 2 of 5 looks; until then, 1 of 2 looks differs from its golden."},
		{"cut off at once", record.Run{}, "The run was cut off after 0 of 0 looks."},
		{"no device", record.Run{Why: "no device answers on /dev/ttyUSB0."}, "There is no verdict: no device answers on /dev/ttyUSB0."},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := verdict(&tt.run); got != tt.want {
				t.Errorf("got  %s\nwant %s", got, tt.want)
			}
			// The sentence and the exit status may not contradict each other.
			if blind := strings.Contains(tt.want, "no verdict") || strings.Contains(tt.want, "cut off"); blind != (tt.run.Exit() == 2) {
				t.Errorf("exit status %d", tt.run.Exit())
			}
			f := newFolder(t)
			f.run = &tt.run
			page := pageOf(t, f)
			wellFormed(t, page)
			if !strings.Contains(html.UnescapeString(page), "<h1>"+tt.want+"</h1>") {
				t.Error("the page does not begin with it")
			}
			junitOf(t, f)
		})
	}
}

func BenchmarkPage(b *testing.B) {
	f := newFolder(b)
	for i := range 24 {
		f.look("home", fmt.Sprint(i), noisy(2*i), noisy(2*i+1))
	}
	b.ResetTimer()
	for b.Loop() {
		if err := Page(f.dir, f.run); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(pageOf(b, f)))/24, "B/look")
}
