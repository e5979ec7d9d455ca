package link

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

//go:embed agent/fascia_agent.h agent/fascia_agent.c agent/README.md agent/CMakeLists.txt agent/library.properties
//go:embed agent/examples/host_main.c agent/examples/strip.c PROTOCOL.md
var agentFiles embed.FS

// WriteAgent writes the device end's source, its guide, the protocol's page and examples below dir,
// and returns the paths written. A file that is there with other content is an error unless replace
// is set; then nothing is written at all.
func WriteAgent(dir string, replace bool) ([]string, error) {
	type file struct {
		path string
		data []byte
	}
	var files []file
	err := fs.WalkDir(agentFiles, ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := agentFiles.ReadFile(path)
		if err != nil {
			return err
		}
		// The page stands above the agent's folder here, and beside its guide where they are written.
		data = bytes.ReplaceAll(data, []byte("](../PROTOCOL.md)"), []byte("](PROTOCOL.md)"))
		rel := path
		if r, relErr := filepath.Rel("agent", filepath.FromSlash(path)); relErr == nil && path != "PROTOCOL.md" {
			rel = r
		}
		files = append(files, file{filepath.Join(dir, rel), data})
		return nil
	})
	if err != nil {
		return nil, err
	}
	for _, f := range files {
		old, err := os.ReadFile(f.path)
		if err == nil && !bytes.Equal(old, f.data) && !replace {
			return nil, fmt.Errorf("%s is there and differs: remove it, or ask for it to be replaced", f.path)
		}
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return nil, err
		}
	}
	var written []string
	for _, f := range files {
		if err := os.MkdirAll(filepath.Dir(f.path), 0o777); err != nil {
			return written, err
		}
		if err := os.WriteFile(f.path, f.data, 0o666); err != nil {
			return written, err
		}
		written = append(written, f.path)
	}
	return written, nil
}
