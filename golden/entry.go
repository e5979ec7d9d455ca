package golden

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"strings"
	"time"
)

// Entry is one line of the ledger: one approval. The order of fields is the order in the line.
type Entry struct {
	Target string `json:"target"`
	Walk   string `json:"walk"`
	Look   string `json:"look"`
	Photo  string `json:"photo,omitempty"` // the bench, if this is about its photos
	// SHA256 is picture.Hash of the approved pixels: of the whole capture, or of those in Box.
	SHA256 string `json:"sha256"`
	Box    *Box   `json:"box,omitempty"` // only this region was approved; the golden stayed
	// Withdrawn: from here on the look has no golden, until one is approved again. SHA256 is the hash
	// of the picture that was withdrawn.
	Withdrawn bool `json:"withdrawn,omitempty"`
	// Replaced is the hash of the pixels that these took the place of, "" if there were none.
	Replaced string    `json:"replaced"`
	Who      string    `json:"who"`
	When     time.Time `json:"when"` // RFC 3339, in UTC, whole seconds
	Why      string    `json:"why"`
	Run      string    `json:"run"`
	Device   string    `json:"device"`
	Build    string    `json:"build"`
	Library  string    `json:"library"` // drawing library and version
	// Prev is the Hash of the look's line before this one, "" for its first.
	Prev string `json:"prev"`
	// Settles are further lines that this one follows, where the chain had forked.
	Settles []string `json:"settles,omitempty"`

	// Hash is the SHA-256 of the line's bytes, without its line end.
	Hash string `json:"-"`
}

// Box is a region of a panel: x and y of its top left, width and height, in pixels.
type Box [4]int

// Rect returns the box as a rectangle.
func (b Box) Rect() image.Rectangle { return image.Rect(b[0], b[1], b[0]+b[2], b[1]+b[3]) }

func boxOf(r image.Rectangle) *Box { return &Box{r.Min.X, r.Min.Y, r.Dx(), r.Dy()} }

// whole reports whether the entry makes a golden, or takes it away.
func (e Entry) whole() bool { return e.Box == nil }

// File is the path of the golden that the entry is about, within the store's folder.
func (e Entry) File() string {
	k, err := e.key()
	if err != nil {
		return ""
	}
	return k.file()
}

// before returns the hashes of the lines that this one follows, none for the first of a look.
func (e Entry) before() []string {
	if e.Prev == "" {
		return e.Settles
	}
	return append([]string{e.Prev}, e.Settles...)
}

func (e Entry) key() (key, error) { return newKey(e.Target, e.Walk, e.Look, e.Photo) }

// line returns the entry as its line, without the line end, and sets Hash.
func (e *Entry) line() ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false) // reasons are read by people, in diffs
	if err := enc.Encode(e); err != nil {
		return nil, fmt.Errorf("write ledger line of look %q: %w", e.Look, err)
	}
	out := bytes.TrimSuffix(b.Bytes(), []byte("\n"))
	e.Hash = lineHash(out)
	return out, nil
}

func lineHash(line []byte) string {
	sum := sha256.Sum256(line)
	return hex.EncodeToString(sum[:])
}

// parseLine reads one line. Fields that are not known are let pass, and still count for the hash: a
// later version of the ledger stays readable.
func parseLine(line []byte) (Entry, error) {
	var e Entry
	if bytes.HasPrefix(line, []byte("<<<<<<<")) || bytes.HasPrefix(line, []byte("=======")) || bytes.HasPrefix(line, []byte(">>>>>>>")) {
		return e, errors.New("a merge conflict was left here: delete the three marker lines and keep the lines of both sides")
	}
	if err := json.Unmarshal(line, &e); err != nil {
		return e, fmt.Errorf("this is no JSON of an approval (%w)", err)
	}
	if _, err := e.key(); err != nil {
		return e, err
	}
	if !isHash(e.SHA256) {
		return e, fmt.Errorf("sha256 is %q, not 64 hex digits in lower case", e.SHA256)
	}
	for _, h := range append([]string{e.Prev, e.Replaced}, e.Settles...) {
		if h != "" && !isHash(h) {
			return e, fmt.Errorf("%q is no hash of 64 hex digits in lower case", h)
		}
	}
	if e.Withdrawn && e.Box != nil {
		return e, errors.New("a region is withdrawn: only whole looks can be")
	}
	if b := e.Box; b != nil && (b[0] < 0 || b[1] < 0 || b[2] <= 0 || b[3] <= 0) {
		return e, fmt.Errorf("box %v is not x, y, width, height of a region", *b)
	}
	if strings.TrimSpace(e.Who) == "" || strings.TrimSpace(e.Why) == "" || e.When.IsZero() {
		return e, errors.New("who, when or why is missing")
	}
	e.Hash = lineHash(line)
	return e, nil
}
