package record

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/fascia-bench/fascia/capture/picture/whole"
)

// A Journal writes a run's record again and again while the run goes on, each time whole and under
// its name in one step, so that there is always a readable one.
type Journal struct {
	file string
	run  *Run
	last time.Time     // when it was written
	cost time.Duration // of that
}

// NewJournal keeps the record of run in the folder dir.
func NewJournal(dir string, run *Run) *Journal {
	return &Journal{file: filepath.Join(dir, File), run: run}
}

// Note writes the record, unless writing would then take more than a twentieth of the time; it
// always writes when must.
func (j *Journal) Note(must bool) error {
	if !must && time.Since(j.last) < 20*j.cost {
		return nil
	}
	start := time.Now()
	err := save(j.file, j.run, json.Marshal) // for a person to read when the run has ended: laying it out takes as long again
	j.last = time.Now()
	j.cost = j.last.Sub(start)
	return err
}

// Save writes the record as it is to stay.
func (j *Journal) Save() error { return Save(j.file, j.run) }

// Save writes a record to a file: whole, or not at all.
func Save(file string, run *Run) error {
	return save(file, run, func(v any) ([]byte, error) { return json.MarshalIndent(v, "", " ") })
}

func save(file string, run *Run, encode func(any) ([]byte, error)) error {
	run.Count()
	data, err := encode(run)
	if err != nil {
		return fmt.Errorf("write %s: %w", file, err)
	}
	err = whole.Write(file, append(data, '\n'))
	if err != nil {
		return fmt.Errorf("write %s: %w", file, err)
	}
	return nil
}

// maxRecord bounds a record's file: that of 100,000 looks is smaller.
const maxRecord = 256 << 20

// Load reads the record of the run in a folder.
func Load(dir string) (*Run, error) {
	file := filepath.Join(dir, File)
	info, err := os.Stat(file)
	if err == nil && info.Size() > maxRecord {
		return nil, fmt.Errorf("%s has %d bytes: no record has more than %d", file, info.Size(), maxRecord)
	}
	data, err := os.ReadFile(file)
	if errors.Is(err, os.ErrNotExist) {
		return nil, fmt.Errorf("%s holds no run: there is no %s", dir, File)
	}
	if err != nil {
		return nil, err
	}
	var run Run
	if err := json.Unmarshal(data, &run); err != nil {
		var syntax *json.SyntaxError
		if errors.As(err, &syntax) {
			return nil, fmt.Errorf("%s:%d: %w", file, 1+bytes.Count(data[:min(int(syntax.Offset), len(data))], []byte("\n")), err)
		}
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	return &run, nil
}

// Latest returns the newest run's folder below a bench's runs folder.
func Latest(runs string) (string, error) {
	entries, err := os.ReadDir(runs)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return "", err
	}
	var newest string
	var started time.Time
	for _, e := range slices.Backward(entries) {
		run, err := Load(filepath.Join(runs, e.Name()))
		if err == nil && (newest == "" || run.Started.After(started)) {
			newest, started = filepath.Join(runs, e.Name()), run.Started
		}
	}
	if newest == "" {
		return "", fmt.Errorf("there is no run in %s", runs)
	}
	return newest, nil
}
