package report

import (
	"fmt"
	"html/template"
	"image"
	"slices"

	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/suites/record"
)

// page is what the template shows, in the order in which it shows it.
type page struct {
	CSS      template.CSS
	Run      string
	Verdict  string
	Exit     string
	Hint     string
	Counts   []count
	Facts    []fact
	Dial     []dialWalk
	Causes   []causeLine
	Plates   []plate
	New      []plate
	Broken   []broken
	Missed   []expectation
	Trails   []trail
	Masks    []mask
	Warnings []string
	Allowed  []allowance
	Asides   []aside
	Times    []timeLine
	Total    timeLine
	Slow     []slowLine
	Pictures []*picOnPage
	Outlines []outline
}

type count struct {
	N    int
	Word string // a verdict or a result; also the name of its mark
	Says string
}

type fact struct{ Name, Value string }

// A dialWalk is a walk's part of the dial: one tick a look, all looks of the run in a row.
type dialWalk struct {
	Name  string
	ID    string
	Ticks []tick
}

type tick struct {
	Href  string
	Word  string
	Label string
}

type causeLine struct {
	Cause string
	Looks []link
}

type link struct{ Href, Name string }

// A plate is a look that a person has to see.
type plate struct {
	ID, Walk, Look, Where string
	TrailID               string
	Also                  []link // looks that show the very same
	Golden, Capture       *screen
	SizesDiffer           string
	Figures               string
	Seen                  string // what the bench's camera says; "" without one
	ByPhoto               bool   // Capture is a photo of the panel
	Notes                 []noteView
	Approve               bool
	Masks                 []record.Ignored
	Note                  string // what the walk says of the screen
	Log                   around
}

type noteView struct {
	note
	Instead []string
	With    []string
	Sure    string
	Details []detail
}

// A detail is a region enlarged, in the golden and in the capture.
type detail struct {
	N    int
	Of   bool // there are others, so its number is said
	Pair [2]screen
}

type broken struct {
	Walk, Where, Why string
	TrailID          string
	Look             string // the look that has no capture
	Log              []string
}

type expectation struct {
	record.Expectation
	Where  string
	Around around
}

// An allowance is a tolerance that a look used, an aside a look that may fail for a while.
type allowance struct {
	Walk, Look, TrailID string
	compare.Relaxed
}

type aside struct {
	Walk, Look, TrailID string
	Verdict             string
	record.Aside
}

type mask struct {
	Walk    string
	Look    string
	TrailID string
	record.Ignored
}

type timeLine struct {
	Walk, TrailID, Took, DeviceTook, Wire, Settle string
	Looks                                         int
	Share                                         float64 // of the longest walk, 0 to 100
}

type slowLine struct {
	link
	Settle, Wire string
}

func newPage(s *shelf, run *record.Run) *page {
	b := builder{s: s, run: run, log: readLog(s.root), panel: image.Pt(run.Device.Width, run.Device.Height)}
	if b.panel.X <= 0 || b.panel.Y <= 0 || b.panel.X > 1<<14 || b.panel.Y > 1<<14 {
		b.panel = image.Pt(320, 240) // for boxes in place of pictures only
	}
	p := &page{
		CSS:     template.CSS(pageCSS),
		Run:     named(run.Run),
		Verdict: verdict(run),
		Exit:    fmt.Sprintf("exit status %d: %s", run.Exit(), exitSays(run.Exit())),
		Hint:    run.Hint,
		Counts:  counts(run),
	}
	var causes []*causeLine
	for i, w := range walksOf(run) {
		id := fmt.Sprintf("walk-%d", i+1)
		t := b.trail(w, id)
		p.Trails = append(p.Trails, t)
		d := dialWalk{Name: named(w.Walk.Walk), ID: id}
		for j, l := range w.looks {
			look := link{Href: t.Legs[j].ID, Name: named(l.Walk) + " / " + named(l.Look)}
			if l.Verdict == record.Differs || l.Verdict == record.Unapproved {
				t.Legs[j].Finding = p.show(b.plate(l, t.Legs[j].Finding, t), look)
				look.Href = t.Legs[j].Finding
				causes = addCauses(causes, l, look)
			}
			d.Ticks = append(d.Ticks, tick{Href: look.Href, Word: string(l.Verdict), Label: look.Name + ": " + string(l.Verdict)})
			for _, r := range l.Relaxed {
				p.Allowed = append(p.Allowed, allowance{Walk: named(l.Walk), Look: named(l.Look), TrailID: t.Legs[j].ID, Relaxed: r})
			}
			if l.Aside != nil {
				p.Asides = append(p.Asides, aside{Walk: named(l.Walk), Look: named(l.Look), TrailID: t.Legs[j].ID, Verdict: string(l.Verdict), Aside: *l.Aside})
			}
			for _, w := range l.Warnings {
				p.Warnings = append(p.Warnings, fmt.Sprintf("%s / %s: %s", named(l.Walk), named(l.Look), w))
			}
			for _, m := range l.Ignored {
				p.Masks = append(p.Masks, mask{Walk: named(l.Walk), Look: named(l.Look), TrailID: t.Legs[j].ID, Ignored: m})
			}
		}
		p.Dial = append(p.Dial, d)
		p.Broken = append(p.Broken, brokenOf(w, t)...)
		for _, e := range t.Expected {
			if e.Result != record.Met {
				p.Missed = append(p.Missed, e)
			}
		}
	}
	slices.SortStableFunc(causes, func(a, b *causeLine) int { return len(b.Looks) - len(a.Looks) })
	for _, c := range causes {
		p.Causes = append(p.Causes, *c)
	}
	p.times(run)
	p.Facts = facts(run)
	p.Pictures, p.Outlines = s.pics, s.outlines
	return p
}

// show adds a plate, unless one shows the very same: screens are passed on many ways. It returns
// the ID of the plate that shows it.
func (p *page) show(x plate, look link) string {
	to := &p.Plates
	if x.Approve {
		to = &p.New
	}
	for i := range *to {
		if have := &(*to)[i]; have.sameAs(x) {
			have.Also = append(have.Also, look)
			return have.ID
		}
	}
	*to = append(*to, x)
	return x.ID
}

func (p plate) sameAs(o plate) bool {
	pic := func(s *screen) string {
		if s == nil {
			return "none"
		}
		return s.Pic
	}
	return pic(p.Capture) != "" && pic(p.Golden) != "" && pic(p.Capture) == pic(o.Capture) && pic(p.Golden) == pic(o.Golden) &&
		slices.Equal(p.Masks, o.Masks) && p.Figures == o.Figures
}
