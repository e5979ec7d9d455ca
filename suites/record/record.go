// Package record is what a run leaves behind: run.json, read by whoever shows, approves or
// compares runs, and written so that it is readable at every moment of the run.
//
// A run is a folder:
//
//	run.json                   this record
//	<walk>/<look>.png          the captures
//	device.log                 what the firmware printed
//	specs.log                  what the spec runner printed
//	report.html, junit.xml, summary.md   made from the above
//
// Paths in the record are slash-separated and relative to the run's folder.
package record

import (
	"time"

	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/golden"
)

// File is the record's name in a run's folder.
const File = "run.json"

// A Verdict of a look.
type Verdict string

// The verdicts.
const (
	Same       Verdict = "same"
	Differs    Verdict = "differs"
	Unapproved Verdict = "unapproved"  // there is no golden
	NoCapture  Verdict = "no-capture"  // no whole picture could be had
	NotReached Verdict = "not-reached" // the walk ended before
)

// Verdicts in the order in which they are told.
var Verdicts = []Verdict{Same, Differs, Unapproved, NoCapture, NotReached}

// A Result of an expectation.
type Result string

// The results.
const (
	Met    Result = "met"
	Missed Result = "missed"
)

// A Run is run.json.
type Run struct {
	Run    string `json:"run"` // name of its folder
	Bench  string `json:"bench"`
	Target string `json:"target"`
	// Tool is the version of fascia that made the run.
	Tool    string    `json:"tool,omitempty"`
	Started time.Time `json:"started"`
	// Ended is zero while the run goes on, or when it was cut off.
	Ended time.Time `json:"ended,omitzero"`
	// Dir is the bench's folder, relative to the run's: walks and goldens are found from it.
	Dir string `json:"dir"`
	// Part is which part of all walks this run took, as 2of5; Plan is a hash of all walks of the parts.
	Part   string `json:"part,omitempty"`
	Plan   string `json:"plan,omitempty"`
	Device Device `json:"device"`
	// Walks in the order in which they were walked.
	Walks        []Walk         `json:"walks"`
	Looks        []Look         `json:"looks"`
	Expectations []Expectation  `json:"expectations"`
	Counts       map[string]int `json:"counts"`
	// Notes tell what happened to the bench in the run: a power cycle, a line lost and found again.
	Notes []string `json:"notes,omitempty"`
	// Why says why the run as a whole came to no verdict; empty when it did.
	Why  string `json:"why,omitempty"`
	Hint string `json:"hint,omitempty"`
}

// Device is who was tested, in its own words.
type Device struct {
	Device   string `json:"device"`
	Build    string `json:"build"`
	Firmware string `json:"firmware"`
	Library  string `json:"library"`
	Width    int    `json:"width"`
	Height   int    `json:"height"`
	Format   string `json:"format"`
}

// Walk is one walk of a run.
type Walk struct {
	Walk string `json:"walk"`
	File string `json:"file"` // relative to the bench's folder
	Hash string `json:"hash"` // SHA-256 of the walk's file and of those it starts from
	// Looks is how many it has.
	Looks int `json:"looks"`
	// Took is what the walk took here, in seconds; DeviceTook on the device's own clock.
	Took       float64 `json:"took"`
	DeviceTook float64 `json:"device_took"`
	// Boot is how long the device took from its reset to its hello, in seconds on its own side of the link.
	Boot float64 `json:"boot"`
	Wire int64   `json:"wire"` // bytes, both ways
	// Done is true when the walk came to its end or broke off; false while it is walked.
	Done bool `json:"done"`
	// Why says why the walk broke off; empty when it came to its end.
	Why string `json:"why,omitempty"`
	// Log holds the last lines the firmware printed before the walk broke off.
	Log []string `json:"log,omitempty"`
}

// Look is one look of a walk. Only looks carry a verdict.
type Look struct {
	Walk    string  `json:"walk"`
	Look    string  `json:"look"`
	Verdict Verdict `json:"verdict"`
	// Line is where the look stands in the walk's file.
	Line int `json:"line"`
	// Note is what the walk's file says of the screen.
	Note string `json:"note,omitempty"`
	// Path says what led here from the look before, in words, one step each.
	Path []Input `json:"path"`
	// Capture and Golden are PNGs; Golden is a copy in the run's folder, so that a run can be
	// read after new goldens were approved. Both may be empty.
	Capture string `json:"capture,omitempty"`
	Golden  string `json:"golden,omitempty"`
	// Pixels is the SHA-256 of the capture's pixels, as the ledger has it; GoldenPixels the golden's.
	Pixels       string `json:"pixels,omitempty"`
	GoldenPixels string `json:"golden_pixels,omitempty"`
	// Finding is what differs; nil unless the verdict is differs.
	Finding *compare.Result `json:"finding,omitempty"`
	Ignored []Ignored       `json:"ignored,omitempty"`
	// Photo is what the bench's camera saw; nil on a bench without one.
	Photo *Photo `json:"photo,omitempty"`
	// Approved are regions whose pixels were approved by themselves; the golden does not have them yet.
	Approved []golden.Box `json:"approved,omitempty"`
	// Relaxed are the tolerances that were used, whatever the verdict.
	Relaxed []compare.Relaxed `json:"relaxed,omitempty"`
	// Aside is set on a look that was set aside for a while.
	Aside *Aside `json:"aside,omitempty"`
	// Warnings tell what makes the verdict worth less than it seems.
	Warnings []string `json:"warnings,omitempty"`
	// Moving is true when the screen did not become still in time.
	Moving bool `json:"moving,omitempty"`
	// Settle is how long the look waited and was sent, in seconds on the device's clock; At when it was
	// taken, from the walk's start.
	Settle float64 `json:"settle"`
	At     float64 `json:"at"`
	Wire   int64   `json:"wire"` // bytes, both ways
	// Gauges are the device's own figures at the look: heap, stack, frame time, whatever it names.
	Gauges map[string]int64 `json:"gauges,omitempty"`
	// Why says why there is no capture, or no verdict.
	Why string `json:"why,omitempty"`
	// Log holds what the firmware printed since the look before, of a look that is not as approved: its last lines.
	Log []string `json:"log,omitempty"`
}

// Photo is what the bench's camera saw at a look, held against the same golden as the framebuffer.
type Photo struct {
	Same bool `json:"same"`
	// Glass is true where the framebuffer is as approved and the photo differs: there is nothing to approve.
	Glass  bool       `json:"glass,omitempty"`
	Chance float64    `json:"chance"` // that noise alone looks so, anywhere on the panel
	Move   [2]float64 `json:"move"`   // of the photo against the alignment, photo pixels
	Gain   [3]float64 `json:"gain"`   // light of each channel against the alignment
	// File is the photo as it was taken, of looks that are not same, and Panel its panel, rectified, of these, of looks
	// that are held against photos, and of all where the bench keeps all.
	File  string `json:"file,omitempty"`
	Panel string `json:"panel,omitempty"`
	// Pixels is the hash of Panel where it may become a golden for photos, and Golden that of the golden for photos
	// that it was held against; "" where it was held against the dump.
	Pixels string `json:"pixels,omitempty"`
	Golden string `json:"golden,omitempty"`
	Why    string `json:"why,omitempty"` // why the photo is of no use
}

// Input is one step of the walk, for a trail: in words, and as points on the panel where it has
// them (a tap one, a drag two).
type Input struct {
	Says   string   `json:"says"`
	Points [][2]int `json:"points,omitempty"`
	// At is when it was given, in seconds on the device's clock from the walk's start.
	At float64 `json:"at"`
}

// Aside says that a look may fail without failing the run.
type Aside struct {
	Until string `json:"until"` // the last day, as 2031-06-01
	Why   string `json:"why"`
	// Past is true when that day is over: then the look fails the run, whatever its verdict.
	Past bool `json:"past,omitempty"`
}

// Ignored is an area of a look that did not count.
type Ignored struct {
	Area string `json:"area"`
	X    int    `json:"x"`
	Y    int    `json:"y"`
	W    int    `json:"w"`
	H    int    `json:"h"`
	Why  string `json:"why"`
}

// Expectation is what a walk demands besides looks.
type Expectation struct {
	Walk   string `json:"walk"`
	What   string `json:"what"` // "log lamp 64", "within 300ms"
	Result Result `json:"result"`
	Line   int    `json:"line"`
	Why    string `json:"why,omitempty"` // of a missed one: what was seen instead
	// Log holds the last lines that the firmware had printed when it was missed.
	Log []string `json:"log,omitempty"`
	// Sweep is what a sweep measured.
	Sweep *Sweep `json:"sweep,omitempty"`
}

// A Sweep is the panel's light over the places of a control, as a share of a white panel's.
type Sweep struct {
	Name   string       `json:"name"`
	By     string       `json:"by"` // camera, or framebuffer, which knows of no backlight
	Points [][2]float64 `json:"points"`
	Curve  [][2]float64 `json:"curve,omitempty"` // that was approved
}

// Count fills Counts.
func (r *Run) Count() {
	c := map[string]int{string(Met): 0, string(Missed): 0}
	for _, v := range Verdicts {
		c[string(v)] = 0
	}
	for _, l := range r.Looks {
		c[string(l.Verdict)]++
	}
	for _, e := range r.Expectations {
		c[string(e.Result)]++
	}
	r.Counts = c
}

// Exit is the exit status that the run deserves: 2 where there is no verdict, 1 where anything differs,
// is missed or is unapproved, else 0. A run that looked at nothing and expected nothing shows nothing.
func (r *Run) Exit() int {
	if r.Why != "" || r.Ended.IsZero() || len(r.Looks)+len(r.Expectations) == 0 {
		return 2
	}
	for _, w := range r.Walks {
		if w.Why != "" || !w.Done {
			return 2
		}
	}
	status := 0
	for _, l := range r.Looks {
		if l.Aside != nil && l.Aside.Past {
			status = max(status, 1)
		} else if l.Aside != nil && (l.Verdict == Differs || l.Verdict == Unapproved) {
			continue
		}
		switch l.Verdict {
		case Same:
		case Differs, Unapproved:
			status = max(status, 1)
		default:
			return 2
		}
	}
	for _, e := range r.Expectations {
		if e.Result != Met {
			status = max(status, 1)
		}
	}
	return status
}
