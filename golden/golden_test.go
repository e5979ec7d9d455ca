package golden

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/picture"
)

// panel is a small picture of its own for each n, its origin off zero as captures' may be.
func panel(n int) *image.NRGBA {
	img := image.NewNRGBA(image.Rect(-2, 3, 3, 7))
	for i := 0; i < len(img.Pix); i += 4 {
		img.Pix[i], img.Pix[i+1], img.Pix[i+2], img.Pix[i+3] = byte(n), byte(n>>8), byte(i), 255
	}
	return img
}

// dot returns img with one pixel changed, x and y from its top left.
func dot(img *image.NRGBA, x, y int) *image.NRGBA {
	out := &image.NRGBA{Pix: bytes.Clone(img.Pix), Stride: img.Stride, Rect: img.Rect}
	out.SetNRGBA(img.Rect.Min.X+x, img.Rect.Min.Y+y, color.NRGBA{255, 255, 255, 255})
	return out
}

const target = "fernhouse-320"

func approval(walk, look string, img image.Image) Approval {
	return Approval{
		Target: target, Walk: walk, Look: look, Picture: img,
		Who: "Ada Fern", Why: "new accent colour", When: time.Date(2031, 5, 4, 9, 30, 0, 999, time.FixedZone("", 7200)),
		Run: "2031-05-04T09-29-11", Device: "mist controller", Build: "v1.4-3-g12ab", Library: "draw-1",
	}
}

func approve(t *testing.T, s *Store, as ...Approval) []Entry {
	t.Helper()
	out, err := s.Approve(as)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func wantGolden(t *testing.T, s *Store, walk, look string, want image.Image) Entry {
	t.Helper()
	img, e, err := s.Get(target, walk, look)
	if err != nil {
		t.Fatal(err)
	}
	if picture.Hash(img) != picture.Hash(want) {
		t.Fatalf("%s/%s holds %v, want %v", walk, look, picture.Pix(img).Pix, picture.Pix(want).Pix)
	}
	return e
}

func open(t *testing.T, dir string) *Store {
	t.Helper()
	s, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func clean(t *testing.T, s *Store) {
	t.Helper()
	if r, err := s.Check(); err != nil || !r.Clean() {
		t.Fatalf("check: %+v, %v", r.Problems, err)
	}
}

func TestApproveAndGet(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "golden") // made by the first approval
	s := open(t, dir)
	if _, _, err := s.Get(target, "bed lamp", "lamp 64"); !errors.Is(err, ErrNoGolden) {
		t.Fatalf("before any approval: %v, want ErrNoGolden", err)
	}
	first := approve(t, s, approval("Bed Lamp", "lamp 64", panel(1)), approval("Bed Lamp", "Über", panel(2)))
	if e := wantGolden(t, s, "bed lamp", "LAMP 64", panel(1)); e.Hash != first[0].Hash || e.Replaced != "" || e.Prev != "" {
		t.Errorf("first approval: %+v", e)
	}
	for _, f := range []string{"fernhouse-320/bed-lamp/lamp-64.png", "fernhouse-320/bed-lamp/ueber.png", ".store/.gitignore"} {
		if _, err := os.Stat(filepath.Join(dir, f)); err != nil {
			t.Error(err)
		}
	}
	second := approve(t, s, approval("bed lamp", "lamp 64", panel(3)))[0]
	other := open(t, dir) // what another process sees
	e := wantGolden(t, other, "bed lamp", "lamp 64", panel(3))
	if e.Prev != first[0].Hash || e.Replaced != picture.Hash(panel(1)) || e.SHA256 != picture.Hash(panel(3)) || e.Hash != second.Hash {
		t.Errorf("second approval does not follow the first: %+v", e)
	}
	log, err := other.Log(target, "bed lamp", "lamp 64")
	if err != nil || len(log) != 2 || log[0].Hash != first[0].Hash || log[1].Hash != second.Hash {
		t.Errorf("log %+v, %v; want both approvals, oldest first", log, err)
	}
	if all, err := other.Goldens(); err != nil || len(all) != 2 || all[0].Look != "lamp 64" || all[1].Look != "Über" {
		t.Errorf("goldens %+v, %v", all, err)
	}
	clean(t, s)
	entries, err := os.ReadDir(filepath.Join(dir, "fernhouse-320", "bed-lamp"))
	if err != nil || len(entries) != 2 {
		t.Errorf("%d files, %v; want the two goldens alone", len(entries), err)
	}
}

// The line's form is a contract: its hash, and so every later line, depends on each byte. Both hashes were
// computed by sha256sum, from the pixels as PPM and from the line.
func TestLineIsByteStable(t *testing.T) {
	s := New(newMemFS(), "golden")
	got := approve(t, s, approval("bed lamp", "lamp <64>", panel(1)))[0]
	raw, err := s.fs.ReadFile(ledgerFile)
	if err != nil {
		t.Fatal(err)
	}
	const want = `{"target":"fernhouse-320","walk":"bed lamp","look":"lamp <64>",` +
		`"sha256":"e9e4db1c4c64c5cefe902204aad6664e3ef463a8892d20e81abc868621f89537","replaced":"",` +
		`"who":"Ada Fern","when":"2031-05-04T07:30:00Z","why":"new accent colour","run":"2031-05-04T09-29-11",` +
		`"device":"mist controller","build":"v1.4-3-g12ab","library":"draw-1","prev":""}` + "\n"
	const wantHash = "377fb328998d460c842ad943dbf65c791679edf6df1ec6ea40c63026770ae059"
	if string(raw) != want {
		t.Errorf("line\n%swant\n%s", raw, want)
	}
	if got.Hash != wantHash {
		t.Errorf("hash %s, want %s", got.Hash, wantHash)
	}
}

func TestApproveRefuses(t *testing.T) {
	s := New(newMemFS(), "golden")
	approve(t, s, approval("w", "l", panel(1)))
	region := func(r image.Rectangle, img image.Image, look string) func(*Approval) {
		return func(a *Approval) { a.Region, a.Picture, a.Look = &r, img, look }
	}
	for _, tt := range []struct {
		name   string
		change func(*Approval)
		want   error
		says   string
	}{
		{"no reason", func(a *Approval) { a.Why = " \n" }, ErrApproval, "reason"},
		{"nobody", func(a *Approval) { a.Who = "" }, ErrApproval, "nobody"},
		{"no time", func(a *Approval) { a.When = time.Time{} }, ErrApproval, "time"},
		{"no capture", func(a *Approval) { a.Picture = nil }, ErrApproval, "capture"},
		{"empty capture", func(a *Approval) { a.Picture = image.NewNRGBA(image.Rectangle{}) }, ErrApproval, "capture"},
		{"nameless", func(a *Approval) { a.Look = "…" }, ErrName, "look"},
		{"saw another", func(a *Approval) { a.Saw = picture.Hash(panel(9)) }, ErrStale, "shown"},
		{"saw none", func(a *Approval) { a.Saw = NoGolden }, ErrStale, "shown golden none"},
		{"saw nonsense", func(a *Approval) { a.Saw = "latest" }, ErrApproval, "hash"},
		{"region of no golden", region(image.Rect(0, 0, 1, 1), panel(2), "new"), ErrNoGolden, "whole look first"},
		{"region off the panel", region(image.Rect(4, 0, 6, 1), panel(2), "l"), ErrApproval, "not within"},
		{"region without area", region(image.Rect(1, 1, 1, 3), panel(2), "l"), ErrApproval, "not within"},
		{"region of another size", region(image.Rect(0, 0, 1, 1), image.NewNRGBA(image.Rect(0, 0, 9, 9)), "l"), ErrApproval, "size"},
		{"region without difference", region(image.Rect(0, 0, 1, 1), dot(panel(1), 3, 3), "l"), ErrApproval, "same in region"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			a := approval("w", "l", panel(2))
			tt.change(&a)
			_, err := s.Approve([]Approval{approval("w", "other", panel(3)), a})
			if !errors.Is(err, tt.want) || !strings.Contains(err.Error(), tt.says) {
				t.Errorf("error %v, want %v that says %q", err, tt.want, tt.says)
			}
			wantGolden(t, s, "w", "l", panel(1))
			if _, _, err := s.Get(target, "w", "other"); !errors.Is(err, ErrNoGolden) {
				t.Errorf("one approval was refused, the other took effect: %v", err)
			}
			clean(t, s)
		})
	}
	if _, err := s.Approve([]Approval{approval("w", "L", panel(2)), approval("W", "l", panel(3))}); !errors.Is(err, ErrApproval) {
		t.Errorf("one look twice in a call: %v, want ErrApproval", err)
	}
	a := approval("w", "l", panel(2))
	a.Saw = picture.Hash(panel(1))
	approve(t, s, a)
	wantGolden(t, s, "w", "l", panel(2))
}

// The same pixels do not rewrite the file, so git sees a change in the ledger alone.
func TestSamePixelsKeepTheFile(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	approve(t, s, approval("w", "l", panel(1)))
	file := filepath.Join(dir, target, "w", "l.png")
	repacked := append(read(t, file), "behind the end"...) // same pixels, other bytes
	if err := os.WriteFile(file, repacked, 0o666); err != nil {
		t.Fatal(err)
	}
	clean(t, s)
	approve(t, s, approval("w", "l", panel(1)))
	if !bytes.Equal(read(t, file), repacked) {
		t.Error("the file was rewritten")
	}
	if log, _ := s.Log(target, "w", "l"); len(log) != 2 {
		t.Errorf("%d lines, want 2: confirming is an approval too", len(log))
	}
}

func read(t *testing.T, file string) []byte {
	t.Helper()
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestPhotosHaveGoldensOfTheirOwn(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	photos, err := s.Photos("Green 1")
	if err != nil {
		t.Fatal(err)
	}
	approve(t, s, approval("w", "l", panel(1)))
	if _, _, err := photos.Get(target, "w", "l"); !errors.Is(err, ErrNoGolden) {
		t.Errorf("photo before its approval: %v, want ErrNoGolden", err)
	}
	approve(t, photos, approval("w", "l", panel(2)))
	wantGolden(t, s, "w", "l", panel(1))
	if e := wantGolden(t, photos, "w", "l", panel(2)); e.Photo != "green-1" || e.Prev != "" {
		t.Errorf("photo's approval: %+v", e)
	}
	read(t, filepath.Join(dir, target, "w", "l.photo-green-1.png"))
	clean(t, s)
}

func TestInherits(t *testing.T) {
	m := newMemFS()
	s := New(m, "golden")
	write := func(name, content string) {
		t.Helper()
		if m.find(name[:strings.IndexByte(name, '/')]) == nil {
			if err := m.Mkdir(name[:strings.IndexByte(name, '/')]); err != nil {
				t.Fatal(err)
			}
		}
		if err := s.writeSynced(name, []byte(content)); err != nil {
			t.Fatal(err)
		}
	}
	approve(t, s, approval("w", "l", panel(1)))
	write("dark/inherits", target+"\n")
	write("dark-rotated/inherits", "dark")
	for _, child := range []string{"dark", "Dark Rotated"} {
		if img, e, err := s.Get(child, "w", "l"); err != nil || e.Target != target || picture.Hash(img) != picture.Hash(panel(1)) {
			t.Errorf("%s inherits %+v, %v", child, e, err)
		}
	}
	own := approval("w", "l", panel(2))
	own.Target = "dark"
	if e := approve(t, s, own)[0]; e.Replaced != picture.Hash(panel(1)) || e.Prev != "" {
		t.Errorf("the first golden of its own replaces what was inherited: %+v", e)
	}
	wantGolden(t, s, "w", "l", panel(1))
	if _, e, err := s.Get("dark-rotated", "w", "l"); err != nil || e.Target != "dark" {
		t.Errorf("the nearest golden counts: %+v, %v", e, err)
	}
	clean(t, s)
	for content, why := range map[string]string{"dark-rotated": "a circle", "…": "no name", "a\nb": "two names", "": "empty"} {
		write("dark/inherits", content)
		if _, _, err := s.Get("dark-rotated", "w", "x"); !errors.Is(err, ErrInherits) || !strings.Contains(err.Error(), "golden/dark") {
			t.Errorf("%s: %v, want ErrInherits that names the file", why, err)
		}
		if r, err := s.Check(); err != nil || r.Clean() || r.Problems[0].Kind != Inherits {
			t.Errorf("%s: check says %+v, %v", why, r.Problems, err)
		}
	}
}

func TestRegions(t *testing.T) {
	s := New(newMemFS(), "golden")
	approve(t, s, approval("w", "l", panel(1)))
	capture := dot(dot(panel(1), 1, 0), 3, 2)
	part := func(x, y int) Approval {
		a, r := approval("w", "l", capture), image.Rect(x, y, x+1, y+1)
		a.Region = &r
		return a
	}
	is := func(want bool, img image.Image, why string) {
		t.Helper()
		if got, err := s.Settled(target, "w", "l", img); err != nil || got != want {
			t.Errorf("settled %v, %v, want %v: %s", got, err, want, why)
		}
	}
	is(false, capture, "nothing is approved yet")
	e := approve(t, s, part(1, 0))[0]
	if e.Box == nil || *e.Box != (Box{1, 0, 1, 1}) || e.SHA256 == e.Replaced || e.Replaced == "" {
		t.Errorf("region's line: %+v", e)
	}
	wantGolden(t, s, "w", "l", panel(1))
	is(false, capture, "the second difference is not approved")
	is(true, dot(panel(1), 1, 0), "the only difference is approved")
	is(false, panel(1), "no difference, nothing to settle")
	is(false, image.NewNRGBA(image.Rect(0, 0, 2, 2)), "another size")
	approve(t, s, part(3, 2))
	wantGolden(t, s, "w", "l", panel(1))
	is(true, capture, "both differences are approved")
	odd := dot(panel(1), 1, 0)
	odd.SetNRGBA(odd.Rect.Min.X+3, odd.Rect.Min.Y+2, color.NRGBA{1, 1, 1, 255})
	is(false, odd, "a difference within an approved box, but not the approved pixels")
	if rs, err := s.Approved(target, "w", "l"); err != nil || len(rs) != 2 || rs[0].Box != image.Rect(1, 0, 2, 1) {
		t.Errorf("approved regions %+v, %v", rs, err)
	}
	last := approve(t, s, part(3, 2))[0]
	if last.Box != nil || last.Replaced != picture.Hash(panel(1)) {
		t.Errorf("the next approval should make the capture the golden: %+v", last)
	}
	wantGolden(t, s, "w", "l", capture)
	if rs, err := s.Approved(target, "w", "l"); err != nil || len(rs) != 0 {
		t.Errorf("regions of the old golden still count: %+v, %v", rs, err)
	}
	clean(t, s)
}
