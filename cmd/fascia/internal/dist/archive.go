//go:build linux

package main

import (
	"archive/tar"
	"archive/zip"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// An item is a file of an archive.
type item struct {
	name string // in the archive, slash-separated
	from string
	mode int64
}

// archive packs the command of a platform with what belongs beside it.
func (r *release) archive(p platform, command string) error {
	top := fmt.Sprintf("fascia-%s-%v", r.version, p)
	items := []item{{top + "/" + filepath.Base(command), command, 0o755}, {top + "/LICENSE", "LICENSE", 0o644}, {top + "/README.md", "README.md", 0o644}}
	beside, err := under(r.docs, top)
	if err != nil {
		return err
	}
	items = append(items, beside...)
	if p.os == "windows" {
		return r.write(top+".zip", func(w io.Writer) error { return writeZip(w, items, r.when) })
	}
	return r.write(top+".tar.gz", func(w io.Writer) error { return writeTar(w, items, r.when) })
}

// agent packs the device's end, as the command holds it.
func (r *release) agent(command string) error {
	dir := filepath.Join(r.scratch, "agent")
	if out, err := exec.Command(command, "agent", "-o", dir).CombinedOutput(); err != nil {
		return fmt.Errorf("write the agent: %w\n%s", err, out)
	}
	items, err := under(dir, "fascia_agent")
	if err != nil {
		return err
	}
	for _, name := range []string{"library.properties", "CMakeLists.txt"} {
		file := filepath.Join("capture/link/agent", name)
		to := "fascia_agent/" + name
		if _, err := os.Stat(file); err == nil && !slices.ContainsFunc(items, func(i item) bool { return i.name == to }) {
			items = append(items, item{to, file, 0o644})
		}
	}
	items = append(items, item{"fascia_agent/LICENSE", "LICENSE", 0o644})
	return r.write("fascia-agent-"+r.version+".zip", func(w io.Writer) error { return writeZip(w, items, r.when) })
}

// under lists the files below a folder, in order.
func under(dir, top string) ([]item, error) {
	var items []item
	err := filepath.WalkDir(dir, func(file string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel, err := filepath.Rel(dir, file)
		items = append(items, item{path.Join(top, filepath.ToSlash(rel)), file, 0o644})
		return err
	})
	return items, err
}

func (r *release) write(name string, fill func(io.Writer) error) error {
	f, err := os.Create(filepath.Join(r.out, name))
	if err != nil {
		return err
	}
	err = fill(f)
	if closeErr := f.Close(); err == nil {
		err = closeErr
	}
	if err != nil {
		return fmt.Errorf("write %s: %w", name, err)
	}
	r.made = append(r.made, name)
	return nil
}

func writeTar(w io.Writer, items []item, when time.Time) error {
	zipped, err := gzip.NewWriterLevel(w, gzip.BestCompression)
	if err != nil {
		return err
	}
	t := tar.NewWriter(zipped)
	for _, it := range items {
		data, err := os.ReadFile(it.from)
		if err != nil {
			return err
		}
		if err := t.WriteHeader(&tar.Header{Name: it.name, Mode: it.mode, Size: int64(len(data)), ModTime: when, Format: tar.FormatPAX}); err != nil {
			return err
		}
		if _, err := t.Write(data); err != nil {
			return err
		}
	}
	if err := t.Close(); err != nil {
		return err
	}
	return zipped.Close()
}

func writeZip(w io.Writer, items []item, when time.Time) error {
	z := zip.NewWriter(w)
	for _, it := range items {
		data, err := os.ReadFile(it.from)
		if err != nil {
			return err
		}
		h := &zip.FileHeader{Name: it.name, Method: zip.Deflate, Modified: when}
		h.SetMode(os.FileMode(it.mode))
		f, err := z.CreateHeader(h)
		if err != nil {
			return err
		}
		if _, err := f.Write(data); err != nil {
			return err
		}
	}
	return z.Close()
}

// sums writes SHA256SUMS, as sha256sum -c reads it, and lists what was made.
func (r *release) sums() error {
	var lines strings.Builder
	slices.Sort(r.made)
	for _, name := range r.made {
		f, err := os.Open(filepath.Join(r.out, name))
		if err != nil {
			return err
		}
		h := sha256.New()
		n, err := io.Copy(h, f)
		f.Close()
		if err != nil {
			return err
		}
		fmt.Fprintf(&lines, "%s  %s\n", hex.EncodeToString(h.Sum(nil)), name)
		fmt.Printf("%8.2f MB  %s\n", float64(n)/1e6, name)
	}
	return os.WriteFile(filepath.Join(r.out, "SHA256SUMS"), []byte(lines.String()), 0o666)
}
