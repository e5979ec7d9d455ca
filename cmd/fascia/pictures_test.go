package main

import (
	"bytes"
	"flag"
	"path/filepath"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/suites/demo"
)

var update = flag.Bool("update", false, "make the README's pictures again")

// The README's pictures are made by the commands that it tells of, and are what those make now.
func TestReadmePictures(t *testing.T) {
	dir := t.TempDir()
	if err := demo.Unpack(dir); err != nil {
		t.Fatal(err)
	}
	t.Setenv(asCommand, "1") // for the specs' process
	command := func(want int, args ...string) string {
		t.Helper()
		var out, errs bytes.Buffer
		if got := run(args, &out, &errs); got != want {
			t.Fatalf("fascia %v: exit status %d, want %d\n%s%s", args, got, want, out.String(), errs.String())
		}
		return out.String()
	}
	out := command(exitDiffers, "run", "--bench", filepath.Join(dir, demo.UpgradeFile))
	_, page, ok := strings.Cut(out, "report: ")
	if !ok {
		t.Fatalf("no report named in %s", out)
	}
	runDir := filepath.Dir(strings.TrimSpace(page))
	for name, args := range map[string][]string{
		"trail.png": {"film", runDir, "--walk", "schedule", "-o"},
		"finding.png": {"compare", filepath.Join(dir, "golden/fernhouse-320/alarm/tank-is-low.png"),
			filepath.Join(runDir, "alarm/tank-is-low.png"), "-o"},
	} {
		committed := filepath.Join("../../.github/pictures", name)
		made := filepath.Join(dir, name)
		if *update {
			made = committed
		}
		status := exitOK
		if args[0] == "compare" {
			status = exitDiffers
		}
		command(status, append(args, made)...)
		if hash(t, made) != hash(t, committed) {
			t.Errorf("%s is not what the tool makes now: run make pictures", committed)
		}
	}
}

func hash(t *testing.T, file string) string {
	t.Helper()
	img, err := picture.Read(file)
	if err != nil {
		t.Fatal(err)
	}
	return picture.Hash(img)
}
