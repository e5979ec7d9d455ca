package group

import (
	"fmt"
	"strings"
)

// says names a group in one sentence.
func (g *Group) says() string {
	return g.what() + g.where() + "."
}

func (g *Group) where() string {
	if n := len(g.Members); n > 1 {
		return fmt.Sprintf(", on %d looks", n)
	}
	return ", on one look"
}

// noun is what the regions are, if most of them are that: "Button text", "Text", or the word given.
func (g *Group) noun(otherwise string) string {
	text, button, n := 0, 0, 0
	for _, m := range g.Members {
		for _, r := range m.Regions {
			n++
			if r.feat.text {
				text++
				if r.feat.button {
					button++
				}
			}
		}
	}
	switch {
	case button*2 > n:
		return "Button text"
	case text*2 > n:
		return "Text"
	}
	return otherwise
}

// place names where it is, when it is in one place.
func (g *Group) place() string {
	b := g.box()
	for _, m := range g.Members {
		if len(m.Regions) != len(g.Members[0].Regions) {
			return ""
		}
		for k, r := range m.Regions {
			if r.X != g.Members[0].Regions[k].X || r.Y != g.Members[0].Regions[k].Y {
				return ""
			}
		}
	}
	return fmt.Sprintf(" at %d,%d (%dx%d)", b.Min.X, b.Min.Y, b.Dx(), b.Dy())
}

func (g *Group) what() string {
	d := g.Detail
	lead := g.Members[0].Regions[0]
	switch g.Cause {
	case "moved":
		if by, ok := d["step"].(int); ok {
			further := "further apart"
			if by < 0 {
				further = "closer together"
			}
			return fmt.Sprintf("Rows of a list %d px %s", max(by, -by), further)
		}
		dx, _ := d["dx"].(int)
		dy, _ := d["dy"].(int)
		return g.noun("Content") + " " + displacement(dx, dy)
	case "recoloured":
		if lead.feat.groundTo {
			return fmt.Sprintf("A fill of %v has become %v like what is around it", d["from"], d["to"])
		}
		return fmt.Sprintf("Colour %v became %v", d["from"], d["to"])
	case "edges":
		if g.noun("") != "" {
			return "Text drawn with other edges: anti-aliasing, hinting or face"
		}
		return "Corners, discs and lines drawn with other edges: anti-aliasing"
	case "shade":
		return "Colours a step or two off, as of gradients and shadows"
	case "stale":
		return "Rows that were not redrawn: what was there before is still there" + g.place()
	case "missing":
		if lead.feat.cut {
			return "Text is cut short" + g.place()
		}
		return g.noun("Content") + " of " + hex(lead.feat.inkB) + " is gone" + g.place()
	case "added":
		return "Something new of " + hex(lead.feat.inkA) + g.place()
	case "text":
		if lead.feat.cut {
			return "Text is cut short" + g.place()
		}
		return g.noun("Text") + " reads differently" + g.place()
	case "resized":
		return "A shape has another size" + g.place()
	case "other":
		if before, ok := d["before"]; ok {
			return fmt.Sprintf("Drawn for a panel of %v instead of %v, and not comparable with it", d["after"], before)
		}
		if len(g.Members) > 1 {
			return fmt.Sprintf("The same %dx%d px changed alike, and no cause can be named", lead.W, lead.H)
		}
		n := 0
		for _, r := range g.Members[0].Regions {
			n += r.Pixels
		}
		return fmt.Sprintf("%d px differ%s and no cause can be named", n, g.place())
	case "torn":
		return fmt.Sprintf("The picture is torn at row %v", d["row"])
	case "blank":
		return fmt.Sprintf("The whole panel is %v", d["colour"])
	}
	if b, ok := d["before"]; ok {
		return fmt.Sprintf("The picture is %v instead of %v", d["after"], b)
	}
	return "The whole panel is " + strings.ReplaceAll(g.Cause, "-", " ")
}

func displacement(dx, dy int) string {
	var parts []string
	if dx != 0 {
		parts = append(parts, fmt.Sprintf("%d px further %s", max(dx, -dx), map[bool]string{true: "right", false: "left"}[dx > 0]))
	}
	if dy != 0 {
		parts = append(parts, fmt.Sprintf("%d px %s", max(dy, -dy), map[bool]string{true: "lower", false: "higher"}[dy > 0]))
	}
	return strings.Join(parts, " and ")
}
