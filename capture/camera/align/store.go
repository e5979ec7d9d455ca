package align

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/gob"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/picture/whole"
	"github.com/fascia-bench/fascia/compare/photo"
)

// magic opens a file of optics; the number is its version.
const magic = "fascia camera optics 2\n"

// limit bounds what is read, so that a wrong file costs an error and not the machine's memory.
const limit = 256 << 20

// Save writes what was learnt of a bench's camera: the dense data into a file of optics beside bench.yaml, and figures
// for people into the camera section there, under aligned. All else in bench.yaml stays to the byte. source is
// the camera's source to write if that is to change, else "". The file is made if there is none.
func Save(path string, o *photo.Optics, rep photo.Report, source string) error {
	old, err := os.ReadFile(path)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("read %s: %w", path, err)
	}
	dense, err := pack(o)
	if err != nil {
		return err
	}
	side := strings.TrimSuffix(filepath.Base(path), filepath.Ext(path)) + ".optics"
	text, err := withCamera(path, string(old), aligned(o, rep, side, dense), source)
	if err != nil {
		return err
	}
	if err := whole.Write(filepath.Join(filepath.Dir(path), side), dense); err != nil {
		return fmt.Errorf("write optics: %w", err)
	}
	if err := whole.Write(path, []byte(text)); err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	return nil
}

func pack(o *photo.Optics) ([]byte, error) {
	var dense bytes.Buffer
	dense.WriteString(magic)
	z := gzip.NewWriter(&dense)
	if err := errors.Join(gob.NewEncoder(z).Encode(o), z.Close()); err != nil {
		return nil, fmt.Errorf("pack optics: %w", err)
	}
	return dense.Bytes(), nil
}

// aligned is the section's text, a line each, not yet indented.
func aligned(o *photo.Optics, rep photo.Report, side string, dense []byte) (lines []string) {
	say := func(format string, args ...any) { lines = append(lines, fmt.Sprintf(format, args...)) }
	g := &o.Geometry
	_, ratio := g.Ratio()
	h, l := g.Plane, g.Lens
	sum := sha256.Sum256(dense)
	say("aligned: # by fascia bench align, to read; what counts is the file of optics")
	say("  photo: [%d, %d]", g.Photo[0], g.Photo[1])
	say("  panel: [%d, %d]", g.Panel[0], g.Panel[1])
	say("  plane: [%.9g, %.9g, %.9g, %.9g, %.9g, %.9g, %.9g, %.9g] # panel to lens, row by row, the last is 1", h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7])
	say("  lens: {k1: %.6g, k2: %.6g, p1: %.6g, p2: %.6g, k3: %.6g}", l.K1, l.K2, l.P1, l.P2, l.K3)
	say("  residual: %.3f # photo px", rep.Fit.Residual)
	say("  ratio: %.2f # photo px a panel px", ratio)
	say("  curve: {gamma: %.3f, offset: %.3f}", o.Curve.Gamma, o.Curve.Offset)
	if o.Period > 0 {
		say("  bands: {period: %.1f, share: %.4f} # photo rows", o.Period, o.Ripple)
	}
	if rep.SeesByDump > 0 {
		say("  sees: {dump: %.3f, photo: %.3f} # least contrast of a glyph that is told, by the kind of golden; a %s is advised", rep.SeesByDump, rep.SeesByPhoto, rep.Golden())
	}
	say("  optics: {file: %q, sha256: %s}", side, hex.EncodeToString(sum[:]))
	return lines
}

// withCamera puts lines into the camera section of a bench.yaml in place of those that were aligned before.
func withCamera(path, text string, aligned []string, source string) (string, error) {
	var out []string
	lines := strings.SplitAfter(text, "\n")
	end, inside, skip, indent := -1, false, false, "  "
	for n, line := range lines {
		bare := strings.TrimRight(line, "\r\n")
		trimmed := strings.TrimLeft(bare, " ")
		depth := len(bare) - len(trimmed)
		switch {
		case strings.HasPrefix(bare, "camera:"):
			if rest := strings.TrimSpace(strings.TrimPrefix(bare, "camera:")); rest != "" && !strings.HasPrefix(rest, "#") {
				return "", fmt.Errorf("%s:%d: the camera's settings stand in one line: write them one below the other, indented, so that align can add to them", path, n+1)
			}
			inside, indent = true, ""
		case inside && trimmed != "" && depth == 0 && !strings.HasPrefix(trimmed, "#"):
			inside, skip = false, false
		case inside && trimmed != "" && depth > 0:
			if indent == "" {
				indent = bare[:depth]
			}
			if depth <= len(indent) {
				skip = strings.HasPrefix(trimmed, "aligned:") || source != "" && strings.HasPrefix(trimmed, "source:")
			}
			if skip {
				continue
			}
		}
		if line == "" {
			continue
		}
		out = append(out, line)
		if inside && (depth > 0 || strings.HasPrefix(bare, "camera:")) {
			end = len(out)
		}
	}
	if len(out) > 0 && !strings.HasSuffix(out[len(out)-1], "\n") {
		out[len(out)-1] += "\n"
	}
	if end < 0 {
		out, indent = append(out, "camera:\n"), "  "
		end = len(out)
	}
	if indent == "" {
		indent = "  "
	}
	var add strings.Builder
	if source != "" {
		fmt.Fprintf(&add, "%ssource: %q\n", indent, source)
	}
	for _, line := range aligned {
		add.WriteString(indent + line + "\n")
	}
	return strings.Join(out[:end], "") + add.String() + strings.Join(out[end:], ""), nil
}

// Load reads the optics of a bench's camera. bench.ErrNotAligned tells of a camera without any.
func Load(c *bench.Camera) (*photo.Optics, error) {
	side, err := c.OpticsFile()
	if err != nil {
		return nil, err
	}
	f, err := os.Open(side)
	if err != nil {
		return nil, c.Errorf("read the camera's optics: %v; run fascia bench align", err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, limit))
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", side, err)
	}
	if sum := sha256.Sum256(data); hex.EncodeToString(sum[:]) != c.Aligned.SHA256 {
		return nil, c.Errorf("%s is of another alignment than this: take both files from the same commit, or run fascia bench align", side)
	}
	return unpack(side, data)
}

func unpack(name string, data []byte) (*photo.Optics, error) {
	rest, ok := bytes.CutPrefix(data, []byte(magic))
	if !ok {
		return nil, fmt.Errorf("%s is not a file of optics that this version reads: run fascia bench align again", name)
	}
	z, err := gzip.NewReader(bytes.NewReader(rest))
	if err != nil {
		return nil, fmt.Errorf("unpack %s: %w", name, err)
	}
	o := new(photo.Optics)
	if err := gob.NewDecoder(bufio.NewReader(io.LimitReader(z, limit))).Decode(o); err != nil {
		return nil, fmt.Errorf("unpack %s: %w", name, err)
	}
	if err := o.Valid(); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return o, nil
}
