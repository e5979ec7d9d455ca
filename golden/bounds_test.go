package golden

import (
	"errors"
	"fmt"
	"image"
	"io/fs"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/picture"
)

// put writes a picture where a golden stands, as somebody's hand might.
func put(t *testing.T, s *Store, file string, img *image.NRGBA) {
	t.Helper()
	var b strings.Builder
	if err := picture.EncodePNG(&b, img); err != nil {
		t.Fatal(err)
	}
	if err := s.writeSynced(file, []byte(b.String())); err != nil {
		t.Fatal(err)
	}
}

// found is what Check says, a line a problem.
func found(t *testing.T, s *Store) string {
	t.Helper()
	r, err := s.Check()
	if err != nil {
		t.Fatal(err)
	}
	out := fmt.Sprintf("%d in place\n", r.Goldens)
	for _, p := range r.Problems {
		out += fmt.Sprintf("%s %s/%s/%s/%s %s: %s; %s\n", p.Kind, p.Target, p.Walk, p.Look, p.Photo, p.File, p.Says, p.Do)
	}
	return out
}

// Where a golden was withdrawn, its own picture is a remnant, and another one is nobody's: never used, and
// left for a person.
func TestPictureWhereAGoldenWasWithdrawn(t *testing.T) {
	s := New(newMemFS(), "golden")
	approve(t, s, approval("w", "l", panel(1)), approval("w", "kept", panel(5)))
	if _, err := s.Withdraw([]Entry{inForce(t, s, "l")}, "Ada", "gone", later); err != nil {
		t.Fatal(err)
	}
	const file = target + "/w/l.png"
	put(t, s, file, panel(1))
	if _, _, err := s.Get(target, "w", "l"); !errors.Is(err, ErrNoGolden) {
		t.Errorf("a remnant: %v, want ErrNoGolden", err)
	}
	if got, want := found(t, s), "1 in place\nleftover fernhouse-320/w/l/ golden/fernhouse-320/w/l.png: it was withdrawn, and its picture is not removed yet; fascia golden check --repair\n"; got != want {
		t.Errorf("a remnant: check says\n%swant\n%s", got, want)
	}
	done, err := s.Repair()
	if err != nil || len(done) != 1 || done[0].Says != "it was withdrawn, and its picture was not removed yet" {
		t.Errorf("repair: %+v, %v", done, err)
	}
	clean(t, s)
	put(t, s, file, panel(2))
	if _, _, err := s.Get(target, "w", "l"); !errors.Is(err, ErrUnrecorded) {
		t.Errorf("another picture: %v, want ErrUnrecorded", err)
	}
	want := "1 in place\norphaned fernhouse-320/w/l/ golden/fernhouse-320/w/l.png: the ledger has no approval of this picture, so it is never used; " +
		"rm \"golden/fernhouse-320/w/l.png\", or run the walk and approve its look\n"
	for range 2 {
		if got := found(t, s); got != want {
			t.Errorf("another picture: check says\n%swant\n%s", got, want)
		}
		if done, err := s.Repair(); err != nil || len(done) != 0 {
			t.Errorf("repair touched %+v, %v", done, err)
		}
	}
}

// Everything that Check has to say of one folder, to the letter, and what Repair leaves of it.
func TestCheckToTheLetter(t *testing.T) {
	s := New(newMemFS(), "golden")
	good := approve(t, s, approval("w", "gone", panel(1)), approval("w", "good", panel(2)), approval("w", "other", panel(3)), approval("w", "older", panel(4)))[1]
	approve(t, s, approval("w", "older", panel(5)))
	photos, err := s.Photos("Green 1")
	if err != nil {
		t.Fatal(err)
	}
	approve(t, photos, approval("w", "good", panel(6)))
	hash := strings.Repeat("0123456789abcdef", 4)
	for _, f := range []struct {
		name string
		n    int
	}{
		{target + "/w/other.png", 9}, {target + "/w/older.png", 4}, {target + "/w/stray.png", 1}, {target + "/w/stray.photo-green-1.png", 1},
		{target + "/w/Big.png", 1}, {target + "/w/a.photo-.png", 1}, {target + "/w/good.photo-photo-x.png", 1}, {target + "/up.png", 1}, {"top.png", 1},
		{target + "/w/.good." + hash + ".pending", 1}, {target + "/w/.good." + good.Hash + ".pending", 2}, {target + "/w/.good.photo-green-1." + hash + ".pending", 1},
		{target + "/w/good." + hash + ".pending", 1}, {target + "/w/.good." + hash[1:] + ".pending", 1}, {target + "/w/..." + hash + ".pending", 1},
		{target + "/w/.good." + strings.ToUpper(hash) + ".pending", 1}, {target + "/w/.good." + hash[1:] + "g.pending", 1}, {target + "/w/.pending", 1}, {ledgerNext, 1}, {"README", 1},
	} {
		put(t, s, f.name, panel(f.n))
	}
	if err := s.fs.Remove(target + "/w/gone.png"); err != nil {
		t.Fatal(err)
	}
	const restore = `git restore "golden/fernhouse-320/w/%[1]s.png"; if git does not have it, fascia run, then fascia approve --look "%[1]s" --reason TEXT` + "\n"
	left := "leftover fernhouse-320/w/good/ golden/fernhouse-320/w/.good." + hash + ".pending: an approval was interrupted before it took effect; fascia golden check --repair\n" +
		"leftover fernhouse-320/w/good/ golden/fernhouse-320/w/.good." + good.Hash + ".pending: an approval took effect, and its picture is not in its place yet; fascia golden check --repair\n" +
		"leftover fernhouse-320/w/good/green-1 golden/fernhouse-320/w/.good.photo-green-1." + hash + ".pending: an approval was interrupted before it took effect; fascia golden check --repair\n"
	if good.Hash < hash {
		t.Fatal("the expected lines are in another order: the hash of the approval has changed")
	}
	misnamed := func(file string) string {
		return "misnamed /// golden/" + file + ": goldens are <target>/<walk>/<look>.png in lower case, ASCII and dashes, so this picture is never used; rm \"golden/" + file + "\"\n"
	}
	up := misnamed(target + "/up.png")
	rest := misnamed(target+"/w/Big.png") + misnamed(target+"/w/a.photo-.png") +
		"missing fernhouse-320/w/gone/ golden/fernhouse-320/w/gone.png: Ada Fern approved it on 2031-05-04, and the file is not there: golden is missing; " + fmt.Sprintf(restore, "gone") +
		"orphaned fernhouse-320/w/good/photo-x golden/fernhouse-320/w/good.photo-photo-x.png: the ledger has no approval of this picture, so it is never used; rm \"golden/fernhouse-320/w/good.photo-photo-x.png\", or run the walk and approve its look\n" +
		"altered fernhouse-320/w/older/ golden/fernhouse-320/w/older.png: it holds what Ada Fern approved on 2031-05-04, but Ada Fern approved another picture on 2031-05-04: golden is not the approved picture; " + fmt.Sprintf(restore, "older") +
		fmt.Sprintf("altered fernhouse-320/w/other/ golden/fernhouse-320/w/other.png: its pixels hash to %.12s…, but Ada Fern approved %.12s… on 2031-05-04: golden is not the approved picture; ", picture.Hash(panel(9)), picture.Hash(panel(3))) + fmt.Sprintf(restore, "other") +
		"orphaned fernhouse-320/w/stray/green-1 golden/fernhouse-320/w/stray.photo-green-1.png: the ledger has no approval of this picture, so it is never used; rm \"golden/fernhouse-320/w/stray.photo-green-1.png\", or run the walk and approve its look\n" +
		"orphaned fernhouse-320/w/stray/ golden/fernhouse-320/w/stray.png: the ledger has no approval of this picture, so it is never used; rm \"golden/fernhouse-320/w/stray.png\", or run the walk and approve its look\n" +
		misnamed("top.png")
	next := "leftover /// golden/.ledger.jsonl.next: an approval was interrupted before it took effect; fascia golden check --repair\n"
	if got, want := found(t, s), "2 in place\n"+next+up+left+rest; got != want {
		t.Errorf("check says\n%s\nwant\n%s", got, want)
	}
	if done, err := s.Repair(); err != nil || len(done) != 4 {
		t.Errorf("repair: %+v, %v", done, err)
	}
	if got, want := found(t, s), "2 in place\n"+up+rest; got != want {
		t.Errorf("after repair check says\n%s\nwant\n%s", got, want)
	}
	wantGolden(t, s, "w", "good", panel(2))
	wantGolden(t, photos, "w", "good", panel(6))
	r, err := s.Check()
	if err != nil {
		t.Fatal(err)
	}
	done, err := s.Discard(r.Problems)
	if err != nil || len(done) != 7 {
		t.Errorf("discarded %q, %v; want the orphans and the misnamed", done, err)
	}
	if r, err := s.Check(); err != nil || len(r.Problems) != 3 {
		t.Errorf("after that: %+v, %v; want what is missing or altered", r.Problems, err)
	}
}

// A line's fields at their bounds.
func TestLineAtItsBounds(t *testing.T) {
	e := Entry{Target: "t", Walk: "w", Look: "l", SHA256: strings.Repeat("0123456789abcdef", 4), Who: "Ada", Why: "new", When: later}
	line := func(change func(e *Entry)) error {
		c := e
		change(&c)
		b, err := c.line()
		if err != nil {
			t.Fatal(err)
		}
		_, err = parseLine(b)
		return err
	}
	for _, tt := range []struct {
		change func(e *Entry)
		says   string
	}{
		{func(e *Entry) {}, ""},
		{func(e *Entry) { e.Box = &Box{0, 0, 1, 1} }, ""},
		{func(e *Entry) { e.Box = &Box{-1, 0, 1, 1} }, "box [-1 0 1 1] is not x, y, width, height of a region"},
		{func(e *Entry) { e.Box = &Box{0, -1, 1, 1} }, "box [0 -1 1 1] is not x, y, width, height of a region"},
		{func(e *Entry) { e.Box = &Box{0, 0, 0, 1} }, "box [0 0 0 1] is not x, y, width, height of a region"},
		{func(e *Entry) { e.Box = &Box{0, 0, 1, 0} }, "box [0 0 1 0] is not x, y, width, height of a region"},
		{func(e *Entry) { e.Withdrawn = true }, ""},
		{func(e *Entry) { e.Withdrawn, e.Box = true, &Box{0, 0, 1, 1} }, "a region is withdrawn: only whole looks can be"},
		{func(e *Entry) { e.SHA256 = e.SHA256[1:] }, `sha256 is "123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef", not 64 hex digits in lower case`},
		{func(e *Entry) { e.SHA256 = strings.Repeat("F", 64) }, `sha256 is "` + strings.Repeat("F", 64) + `", not 64 hex digits in lower case`},
		{func(e *Entry) { e.Prev = "x" }, `"x" is no hash of 64 hex digits in lower case`},
		{func(e *Entry) { e.Replaced = "x" }, `"x" is no hash of 64 hex digits in lower case`},
		{func(e *Entry) { e.Settles = []string{"", "x"} }, `"x" is no hash of 64 hex digits in lower case`},
		{func(e *Entry) { e.Who = "\t" }, "who, when or why is missing"},
		{func(e *Entry) { e.Why = "\t" }, "who, when or why is missing"},
		{func(e *Entry) { e.When = time.Time{} }, "who, when or why is missing"},
		{func(e *Entry) { e.Walk = "-" }, `walk: name "-" has no ASCII letter or digit to make a file name of: unusable name`},
	} {
		if got := fmt.Sprint(line(tt.change)); got != tt.says && !(got == "<nil>" && tt.says == "") {
			t.Errorf("%q, want %q", got, tt.says)
		}
	}
	for _, c := range []struct {
		digit byte
		want  bool
	}{{'0', true}, {'9', true}, {'a', true}, {'f', true}, {'/', false}, {':', false}, {'`', false}, {'g', false}} {
		if isHash(strings.Repeat("0", 63)+string(c.digit)) != c.want {
			t.Errorf("%q in a hash: %v", c.digit, !c.want)
		}
	}
	e.Photo = "Green 1"
	if got := e.File(); got != "t/w/l.photo-green-1.png" {
		t.Errorf("file %q", got)
	}
	if e.Look = ""; e.File() != "" {
		t.Errorf("file of no look %q", e.File())
	}
	if r := (Box{1, 2, 3, 4}).Rect(); r != image.Rect(1, 2, 4, 6) || *boxOf(r) != (Box{1, 2, 3, 4}) {
		t.Errorf("box %v", r)
	}
	for name, want := range map[string]string{"az09": "az09", "{@`/:[": "", strings.Repeat("a", 100): strings.Repeat("a", 100), strings.Repeat("a", 101): "",
		"com0": "", "lpt9": "", "com:": "com", "con": "", "cons": "cons", "com": "com", "xpt1": "xpt1"} {
		if got, err := FileName(name); got != want || (err == nil) != (want != "") {
			t.Errorf("FileName(%q) = %q, %v, want %q", name, got, err, want)
		}
	}
	if _, err := New(newMemFS(), "golden/").Photos("…"); !errors.Is(err, ErrName) || err.Error() != `photos of bench "…": name "…" has no ASCII letter or digit to make a file name of: unusable name` {
		t.Errorf("photos of no bench: %v", err)
	}
	if at := New(newMemFS(), "golden//").at("x"); at != "golden/x" {
		t.Errorf("a file is named %q", at)
	}
}

// What the ledger says of many looks: in the order of files, each look's oldest line first.
func TestEntriesAndReadings(t *testing.T) {
	s := New(newMemFS(), "golden")
	if out, err := s.Approve(nil); out != nil || err != nil {
		t.Errorf("approve nothing: %v, %v", out, err)
	}
	if out, err := s.Withdraw(nil, "", "", time.Time{}); out != nil || err != nil {
		t.Errorf("withdraw nothing: %v, %v", out, err)
	}
	if out, err := s.Discard(nil); out != nil || err != nil {
		t.Errorf("discard nothing: %v, %v", out, err)
	}
	approve(t, s, approval("w", "b", panel(1)), approval("w", "a", panel(2)))
	approve(t, s, approval("w", "b", panel(3)))
	got := ""
	all, err := s.Entries()
	for _, e := range all {
		got += fmt.Sprintf("%s %.6s after %.6s; ", e.Look, e.SHA256, e.Replaced)
	}
	want := fmt.Sprintf("a %.6s after ; b %.6s after ; b %.6s after %.6s; ", picture.Hash(panel(2)), picture.Hash(panel(1)), picture.Hash(panel(3)), picture.Hash(panel(1)))
	if err != nil || got != want {
		t.Errorf("entries %s, %v; want %s", got, err, want)
	}
	part := approval("w", "b", dot(panel(3), 2, 2))
	part.Region = &image.Rectangle{Min: image.Pt(2, 2), Max: image.Pt(3, 3)}
	approve(t, s, part)
	r, err := s.Read()
	if err != nil {
		t.Fatal(err)
	}
	if sha, regions, err := r.Recorded(target, "w", "b"); err != nil || sha != picture.Hash(panel(3)) || len(regions) != 1 || regions[0].Box != image.Rect(2, 2, 3, 3) || regions[0].SHA256 != regions[0].Entry.SHA256 {
		t.Errorf("recorded %s, %+v, %v", sha, regions, err)
	}
	if sha, regions, err := r.Recorded(target, "w", "none"); err != nil || sha != "" || len(regions) != 0 {
		t.Errorf("recorded of none: %s, %+v, %v", sha, regions, err)
	}
	if log, err := r.Log(target, "w", "none"); err != nil || log != nil {
		t.Errorf("log of none: %+v, %v", log, err)
	}
	approve(t, s, approval("w", "b", panel(4)))
	if log, err := r.Log(target, "w", "b"); err != nil || len(log) != 3 {
		t.Errorf("a reading moves on: %d lines, %v", len(log), err)
	}
	for _, bad := range []func() error{
		func() error { _, _, err := r.Recorded("", "w", "b"); return err },
		func() error { _, err := r.Log(target, "", "b"); return err },
		func() error { _, _, err := s.Get(target, "w", ""); return err },
		func() error { _, err := s.Approved(target, "w", ""); return err },
	} {
		if err := bad(); !errors.Is(err, ErrName) {
			t.Errorf("a nameless look: %v", err)
		}
	}
}

// Eight targets may inherit in a row, a ninth is an error that names the file.
func TestLongLineage(t *testing.T) {
	s := New(newMemFS(), "golden")
	a := approval("w", "l", panel(1))
	a.Target = "t0"
	approve(t, s, a)
	for i := 1; i <= 8; i++ {
		if err := errors.Join(s.fs.Mkdir(fmt.Sprint("t", i)), s.writeSynced(fmt.Sprintf("t%d/inherits", i), []byte(fmt.Sprintf(" t%d \n", i-1)))); err != nil {
			t.Fatal(err)
		}
	}
	if _, e, err := s.Get("t7", "w", "l"); err != nil || e.Target != "t0" {
		t.Errorf("eight in a row: %+v, %v", e, err)
	}
	if _, _, err := s.Get("t8", "w", "l"); !errors.Is(err, ErrInherits) || err.Error() != `"golden/t1/inherits": more than 8 targets inherit in a row: bad inheritance` {
		t.Errorf("nine in a row: %v", err)
	}
}

// Whichever call of an approval fails, and only that one, the approval says so; and where it took effect all the same, it
// says that it is not finished. Taking leftovers away is no part of it and may fail.
func TestNoFailingCallIsSilent(t *testing.T) {
	both := []Approval{approval("v", "k", panel(1)), approval("w", "l", panel(2))}
	m := newMemFS()
	approve(t, New(m, "golden"), both...)
	for bad := range m.steps {
		for _, how := range []fault{fails, lies} {
			m := newMemFS()
			failed := ""
			m.fail = func(step int, call string) fault {
				if step == bad+1 {
					failed = call
					return how
				}
				return works
			}
			s := New(m, "golden")
			_, err := s.Approve(both)
			_, _, got := s.Get(target, "w", "l")
			switch {
			case err == nil && failed != "remove":
				t.Errorf("call %d, %s, fault %d: no error", bad+1, failed, how)
			case err == nil:
			case errors.Is(err, ErrUnfinished) != (got == nil):
				t.Errorf("call %d, fault %d: approve says %v, get says %v", bad+1, how, err, got)
			}
		}
	}
}

// What cannot be put on disk is an error on a real file system too.
func TestSyncOfAFolderThatIsNotThere(t *testing.T) {
	if runtime.GOOS == "windows" {
		return // it has no such call
	}
	d := dir(t.TempDir())
	if err := d.SyncDir("."); err != nil {
		t.Error(err)
	}
	if err := d.SyncDir("gone"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("synced: %v", err)
	}
}
