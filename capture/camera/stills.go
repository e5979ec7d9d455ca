package camera

import (
	"context"
	"image"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"
)

// file is one picture, read anew for each photo.
type file struct{ path string }

func (f *file) ready(context.Context) ([]string, error) { return nil, nil }
func (f *file) rest()                                   {}
func (f *file) close() error                            { return nil }

// next reads the file once it stands still: it may be on its way.
func (f *file) next(ctx context.Context) (image.Image, string, error) {
	was, err := os.Stat(f.path)
	for err == nil {
		select {
		case <-ctx.Done():
			return nil, "", ctx.Err()
		case <-time.After(50 * time.Millisecond):
		}
		var now os.FileInfo
		if now, err = os.Stat(f.path); err == nil && now.Size() == was.Size() && now.ModTime().Equal(was.ModTime()) {
			break
		}
		was = now
	}
	m, err := ReadPhoto(f.path)
	return m, "", err
}

// folder hands on files that were not there before, the oldest name first.
type folder struct {
	dir  string
	seen map[string]bool
}

func newFolder(dir string) *folder { return &folder{dir: dir, seen: map[string]bool{}} }

func (f *folder) ready(context.Context) ([]string, error) { return nil, nil }
func (f *folder) rest()                                   {}
func (f *folder) close() error                            { return nil }

func (f *folder) next(ctx context.Context) (image.Image, string, error) {
	sizes := map[string]int64{}
	for {
		entries, err := os.ReadDir(f.dir)
		if err != nil {
			return nil, "", err
		}
		sort.Slice(entries, func(i, j int) bool { return entries[i].Name() < entries[j].Name() })
		for _, e := range entries {
			info, err := e.Info()
			if err != nil || e.IsDir() || f.seen[e.Name()] || !isPicture(strings.ToLower(e.Name())) {
				continue
			}
			// A file may still be on its way: it is read once its size has stood still.
			if was, ok := sizes[e.Name()]; !ok || was != info.Size() || info.Size() == 0 {
				sizes[e.Name()] = info.Size()
				continue
			}
			f.seen[e.Name()] = true
			m, err := ReadPhoto(filepath.Join(f.dir, e.Name()))
			return m, "", err
		}
		select {
		case <-ctx.Done():
			return nil, "", ctx.Err()
		case <-time.After(50 * time.Millisecond):
		}
	}
}
