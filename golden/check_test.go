package golden

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/capture/picture"
)

// Each way to spoil a golden: what Get says, what Check says, and the command that Check gives.
func TestSpoiltGoldens(t *testing.T) {
	elsewhere := t.TempDir()
	for _, tt := range []struct {
		name  string
		spoil func(dir, file string) error
		get   error
		kind  Kind
		says  string
		do    string
	}{
		{"deleted", func(_, file string) error { return os.Remove(file) },
			ErrMissing, Missing, "Ada Fern approved it on 2031-05-04", "git restore"},
		{"other pixels", func(_, file string) error { return picture.WritePNG(file, panel(9)) },
			ErrAltered, Altered, "its pixels hash to", "git restore"},
		{"one pixel", func(_, file string) error { return picture.WritePNG(file, dot(panel(2), 4, 3)) },
			ErrAltered, Altered, "its pixels hash to", "git restore"},
		{"an earlier golden", func(_, file string) error { return picture.WritePNG(file, panel(1)) },
			ErrAltered, Altered, "it holds what Ada Fern approved", "git restore"},
		{"cut short", func(_, file string) error { return os.Truncate(file, 40) },
			ErrAltered, Altered, "ends before its picture does", "git restore"},
		{"not a picture", func(_, file string) error {
			return os.WriteFile(file, []byte("version https://git-lfs.github.com/spec/v1\n"), 0o666)
		},
			ErrAltered, Altered, "git lfs pull", "git restore"},
		{"a folder", func(_, file string) error { return errors.Join(os.Remove(file), os.Mkdir(file, 0o777)) },
			ErrAltered, Altered, "directory", "git restore"},
		{"a link to another look", func(_, file string) error { return errors.Join(os.Remove(file), os.Symlink("other.png", file)) },
			ErrLink, Linked, "symbolic link", "rm "},
		{"a link out of the folder", func(_, file string) error {
			out := filepath.Join(elsewhere, "l.png")
			return errors.Join(picture.WritePNG(out, panel(2)), os.Remove(file), os.Symlink(out, file))
		},
			ErrLink, Linked, "symbolic link", "rm "},
		{"a linked walk", func(_, file string) error {
			w := filepath.Dir(file)
			return errors.Join(os.Rename(w, w+"-moved"), os.Symlink(filepath.Base(w)+"-moved", w))
		},
			ErrLink, Linked, "symbolic link", "rm "},
		{"never approved", func(dir, _ string) error { return os.Remove(filepath.Join(dir, ledgerFile)) },
			ErrUnrecorded, Orphaned, "no approval of this picture", "rm "},
		{"misnamed beside", func(_, file string) error { return os.Link(file, filepath.Join(filepath.Dir(file), "L 2.PNG.png")) },
			nil, Misnamed, "lower case, ASCII and dashes", "rm "},
		{"misplaced", func(dir, file string) error { return os.Link(file, filepath.Join(dir, "l.png")) },
			nil, Misnamed, "<target>/<walk>/<look>.png", "rm "},
	} {
		t.Run(tt.name, func(t *testing.T) {
			dir := t.TempDir()
			s := open(t, dir)
			approve(t, s, approval("w", "l", panel(1)), approval("w", "other", panel(2)))
			approve(t, s, approval("w", "l", panel(2)))
			file := filepath.Join(dir, target, "w", "l.png")
			if err := tt.spoil(dir, file); err != nil {
				t.Fatal(err)
			}
			for range 2 { // and Repair changes nothing about it
				img, _, err := s.Get(target, "w", "l")
				if !errors.Is(err, tt.get) || err != nil && img != nil {
					t.Errorf("get: %v, want %v and no picture", err, tt.get)
				}
				if err != nil && !strings.Contains(err.Error(), filepath.ToSlash(dir)+"/"+target+"/w") {
					t.Errorf("get: %v does not name the file", err)
				}
				r, err := s.Check()
				if err != nil {
					t.Fatal(err)
				}
				found := false
				for _, p := range r.Problems {
					if p.Kind == tt.kind && strings.Contains(p.Says, tt.says) && strings.Contains(p.Do, tt.do) && strings.HasPrefix(p.File, dir) {
						found = true
					}
				}
				if !found {
					t.Errorf("check: %+v, want %s that says %q and does %q", r.Problems, tt.kind, tt.says, tt.do)
				}
				if done, err := s.Repair(); err != nil || len(done) != 0 {
					t.Errorf("repair settled %+v, %v: it may touch leftovers only", done, err)
				}
			}
		})
	}
}

// Nothing is written through links, wherever they stand.
func TestApproveThroughLinks(t *testing.T) {
	for _, link := range []string{target, target + "/w", target + "/w/l.png", ledgerFile, ".store"} {
		t.Run(link, func(t *testing.T) {
			dir, elsewhere := t.TempDir(), t.TempDir()
			path := filepath.Join(dir, filepath.FromSlash(link))
			if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
				t.Fatal(err)
			}
			to := elsewhere
			if strings.Contains(link, ".png") || link == ledgerFile {
				to = filepath.Join(elsewhere, "file")
				if err := os.WriteFile(to, nil, 0o666); err != nil {
					t.Fatal(err)
				}
			}
			if err := os.Symlink(to, path); err != nil {
				t.Fatal(err)
			}
			if _, err := open(t, dir).Approve([]Approval{approval("w", "l", panel(1))}); !errors.Is(err, ErrLink) {
				t.Errorf("approve: %v, want ErrLink", err)
			}
			left, err := os.ReadDir(elsewhere)
			if err != nil || len(left) > 1 || len(left) == 1 && len(read(t, to)) != 0 {
				t.Errorf("something was written through the link: %v, %v", left, err)
			}
		})
	}
}

// Approving mends a golden that is missing or altered: the ledger knows what it replaces.
func TestApprovalMends(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	approve(t, s, approval("w", "l", panel(1)))
	if err := picture.WritePNG(filepath.Join(dir, target, "w", "l.png"), panel(9)); err != nil {
		t.Fatal(err)
	}
	if e := approve(t, s, approval("w", "l", panel(2)))[0]; e.Replaced != picture.Hash(panel(1)) {
		t.Errorf("replaced %s, want the approved picture, not the altered one", e.Replaced)
	}
	wantGolden(t, s, "w", "l", panel(2))
	clean(t, s)
}

func TestCheckOfNothing(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "golden")
	s := open(t, dir)
	clean(t, s)
	if done, err := s.Repair(); err != nil || len(done) != 0 {
		t.Errorf("repair: %v, %v", done, err)
	}
	if _, err := os.Stat(dir); err == nil {
		t.Error("looking made the folder")
	}
	if err := os.WriteFile(dir, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(dir); err == nil {
		t.Error("a file was opened as the golden folder")
	}
}
