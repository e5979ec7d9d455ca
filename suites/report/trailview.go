package report

import (
	"fmt"
	"image"
	"math"
	"slices"
	"sort"

	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/suites/record"
)

// A trail is a walk on the page.
type trail struct {
	ID, Name, File, Figures, Why string
	Legs                         []leg
	Rest                         int // looks of the walk that the record does not hold
	Expected                     []expectation
}

// A leg is a look with the inputs that led to it.
type leg struct {
	ID      string
	Finding string // ID of its plate
	Inputs  []inputView
	Name    string
	Word    string // its verdict
	Note    string
	Frame   screen
	Figures string
}

type inputView struct{ Letter, Says string }

type builder struct {
	s     *shelf
	run   *record.Run
	panel image.Point
	log   []string // device.log
}

func (b *builder) trail(w *walkOf, id string) trail {
	t := trail{ID: id, Name: named(w.Walk.Walk), File: w.File, Why: w.Why, Rest: w.Looks - len(w.looks)}
	t.Figures = fmt.Sprintf("%s, %s here", plural(w.Looks, "look"), seconds(w.Took))
	if w.DeviceTook > 0 {
		t.Figures += ", " + seconds(w.DeviceTook) + " on the device"
	}
	t.Figures += ", " + bytesOf(w.Wire) + " on the wire"
	for i, l := range w.looks {
		g := leg{ID: fmt.Sprintf("look-%d", w.at[i]+1), Name: named(l.Look), Word: string(l.Verdict), Note: l.Why}
		if l.Verdict == record.Differs || l.Verdict == record.Unapproved {
			g.Finding = fmt.Sprintf("finding-%d", w.at[i]+1)
		}
		g.Frame = b.frame(l)
		before := image.Rectangle{Max: b.panel}
		if i > 0 {
			before = t.Legs[i-1].Frame.Box
		}
		letters, touches := lettered(l.Path, before)
		for j, in := range l.Path {
			g.Inputs = append(g.Inputs, inputView{letters[j], in.Says})
		}
		if i > 0 && t.Legs[i-1].Frame.Pic != "" {
			t.Legs[i-1].Frame.Touches = touches
		} else {
			// There is no frame to draw on.
			for j := range g.Inputs {
				g.Inputs[j].Letter = ""
			}
		}
		if l.Verdict != record.NotReached {
			g.Figures = "settled in " + seconds(l.Settle) + ", " + bytesOf(l.Wire)
		}
		if l.Moving {
			g.Note = "it did not become still in time"
		}
		t.Legs = append(t.Legs, g)
	}
	for _, e := range w.expected {
		t.Expected = append(t.Expected, expectation{e, where(w.File, e.Line), b.around(e.Log)})
	}
	return t
}

func (b *builder) frame(l record.Look) screen {
	f := b.s.onShelf(l.Capture, b.panel)
	f.Class = "frame"
	switch {
	case l.Verdict == record.NotReached:
		f.Pic, f.Missing = "", "not reached"
	case l.Verdict == record.NoCapture:
		f.Pic, f.Missing = "", "no capture"
	}
	f.K = reduced(span(f.Box.Size()), frameRoom)
	if f.K < 1 {
		f.Class += " reduced"
		if f.Box.Dx() <= phoneRoom {
			f.Class += " fits"
		}
	}
	f.Masks = masksOf(l, f.Box)
	f.Label = fmt.Sprintf("the panel at %q", named(l.Look))
	if l.Verdict == record.Differs {
		f.Rings = ringsOnly(l.Finding, f.Box)
		f.Outline = b.s.outline(f.Rings)
		f.Label += fmt.Sprintf("; %s ringed", plural(len(f.Rings), "changed region"))
	}
	return f
}

// plate shows a look that differs, or one without golden, at full size.
func (b *builder) plate(l record.Look, id string, t trail) plate {
	p := plate{ID: id, Walk: t.Name, Look: named(l.Look), Where: where(t.File, l.Line), TrailID: t.ID, Masks: l.Ignored, Note: l.Note, Log: b.around(l.Log),
		Seen: seenBy(l), ByPhoto: l.Photo != nil && l.Photo.Glass}
	c := b.s.onShelf(l.Capture, b.panel)
	c.K = enlarged(span(c.Box.Size()), plateRoom, 4)
	c.Masks = masksOf(l, c.Box)
	c.Label = fmt.Sprintf("%s, as captured", p.Look)
	p.Capture = &c
	c.broad()
	if l.Verdict == record.Unapproved {
		p.Approve = true
		return p
	}
	g := b.s.onShelf(l.Golden, b.panel)
	g.K, g.Masks = enlarged(span(g.Box.Size()), plateRoom, 4), masksOf(l, g.Box)
	g.Label = fmt.Sprintf("%s, as approved", p.Look)
	g.broad()
	p.Golden = &g
	if l.Finding == nil {
		return p
	}
	res := *l.Finding
	rings, notes := ringsAndNotes(res, c.Box, c.Tag())
	c.Rings, g.Rings = rings, ringsIn(rings, g.Box)
	c.Outline, g.Outline = b.s.outline(c.Rings), b.s.outline(g.Rings)
	if res.Size.Golden != res.Size.Capture {
		p.SizesDiffer = sizesDiffer(res)
	} else {
		p.Figures = fmt.Sprintf("%s changed", plural(res.Changed, "pixel"))
		if res.SSIM != nil {
			p.Figures += fmt.Sprintf(", SSIM %.4f", *res.SSIM)
		}
		if res.SSIMMin != nil {
			p.Figures += fmt.Sprintf(" (%.2f in the worst window)", math.Round(*res.SSIMMin*100)/100+0)
		}
	}
	for _, n := range notes {
		p.Notes = append(p.Notes, b.note(n, g, c))
	}
	return p
}

// seenBy is what the photo of a look that differs adds to the framebuffer.
func seenBy(l record.Look) string {
	switch p := l.Photo; {
	case p == nil:
		return ""
	case p.Glass:
		return "By camera alone: " + l.Why + "."
	case p.Why != "":
		return "By camera: " + p.Why + "."
	case p.Same:
		return "By camera: as approved, as far as a photo can tell."
	}
	return "By camera: it differs as well."
}

func sizesDiffer(res compare.Result) string {
	return fmt.Sprintf("The golden is %dx%d px, the capture %dx%d px.",
		res.Size.Golden[0], res.Size.Golden[1], res.Size.Capture[0], res.Size.Capture[1])
}

func ringsIn(rings []ring, panel image.Rectangle) []ring {
	var out []ring
	for _, r := range rings {
		if r.Box = r.Box.Intersect(panel); !r.Box.Empty() {
			out = append(out, r)
		}
	}
	return out
}

func (b *builder) note(n note, golden, capture screen) noteView {
	v := noteView{note: n, Sure: fmt.Sprintf("%.0f %%", n.Cause.Confidence*100)}
	for _, c := range n.Cause.With {
		v.With = append(v.With, c.Says)
	}
	for _, c := range n.Cause.Instead {
		v.Instead = append(v.Instead, c.Says)
	}
	if len(n.Rings) == 0 || golden.Pic == "" || capture.Pic == "" || golden.Box != capture.Box {
		return v
	}
	for _, r := range worthEnlarging(n) {
		box := detailBox(r.Box, capture.Box)
		k := enlarged(max(box.Dx(), box.Dy()*3/2), detailRoom, detailMax)
		if k <= capture.K { // as large as it stands above
			continue
		}
		d := detail{N: r.N, Of: len(n.Rings) > 1}
		for i, s := range []screen{golden, capture} {
			d.Pair[i] = screen{Class: "detail", Label: fmt.Sprintf("region %d of %s, enlarged", r.N, s.Label), Pic: s.Pic, Box: box, K: k}
		}
		v.Details = append(v.Details, d)
	}
	return v
}

// worthEnlarging picks regions of a note. Where the figures of the cause say it all, one is enough.
func worthEnlarging(n note) []ring {
	most := 4
	switch n.Cause.Cause {
	case "edges", "moved", "recoloured":
		most = 1
	}
	own := slices.Clone(n.Rings)
	slices.SortStableFunc(own, func(a, b ring) int { return b.Box.Dx()*b.Box.Dy() - a.Box.Dx()*a.Box.Dy() })
	own = own[:min(len(own), most)]
	slices.SortFunc(own, func(a, b ring) int { return a.N - b.N })
	return own
}

// times fills the figures.
func (p *page) times(run *record.Run) {
	var total timeLine
	var took, onDevice, longest float64
	var wire int64
	walks := walksOf(run)
	for _, w := range walks {
		longest = max(longest, w.Took)
	}
	for i, w := range walks {
		var settle float64
		for _, l := range w.looks {
			settle += l.Settle
		}
		t := timeLine{Walk: named(w.Walk.Walk), TrailID: p.Trails[i].ID, Looks: w.Looks, Took: seconds(w.Took),
			DeviceTook: seconds(w.DeviceTook), Wire: bytesOf(w.Wire), Settle: seconds(settle)}
		if longest > 0 {
			t.Share = 100 * w.Took / longest
		}
		p.Times = append(p.Times, t)
		total.Looks += w.Looks
		took, onDevice, wire = took+w.Took, onDevice+w.DeviceTook, wire+w.Wire
	}
	total.Took, total.DeviceTook, total.Wire = seconds(took), seconds(onDevice), bytesOf(wire)
	p.Total = total

	order := make([]int, 0, len(run.Looks))
	for i, l := range run.Looks {
		if l.Settle > 0 {
			order = append(order, i)
		}
	}
	sort.SliceStable(order, func(a, b int) bool { return run.Looks[order[a]].Settle > run.Looks[order[b]].Settle })
	for _, i := range order[:min(len(order), 5)] {
		l := run.Looks[i]
		p.Slow = append(p.Slow, slowLine{link{fmt.Sprintf("look-%d", i+1), named(l.Walk) + " / " + named(l.Look)}, seconds(l.Settle), bytesOf(l.Wire)})
	}
}
