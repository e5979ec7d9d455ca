package compare

import (
	"fmt"
	"image"
)

// practice marks hints at the usual suspects in firmware, which come from experience
// and not from a source.
const practice = " (common practice, no source)"

// whole makes a whole-panel cause with its sentence.
func whole(name string, d Detail) Cause { return cause(name, confidenceOf[name], d) }

func cause(name string, confidence float64, d Detail) Cause {
	c := Cause{Cause: name, Confidence: confidence, Detail: d}
	c.Says = wholeSays(c)
	return c
}

// confidenceOf is the share of labelled pairs in which a cause named first was right,
// rounded down, for screens other than our own are less kind; TestConfusion holds their
// mean against the share that is right.
var confidenceOf = map[string]float64{
	"stale": 0.98, "torn": 0.97, "blank": 0.95, "byte-swapped": 0.98, "red-blue-swapped": 0.98, "inverted": 0.98,
	"rotated": 0.98, "mirrored": 0.98, "shifted": 0.96, "sheared": 0.97, "rescaled": 0.93, "tone": 0.95, "fewer-colours": 0.95,
	"moved": 0.95, "recoloured": 0.9, "resized": 0.9, "text": 0.85, "edges": 0.93, "missing": 0.95, "added": 0.95, "other": 0.5,
}

func wholeSays(c Cause) string {
	d := c.Detail
	switch c.Cause {
	case "byte-swapped":
		return "The two bytes of each 16-bit pixel are exchanged: check the byte order of the flush routine" + practice + "."
	case "red-blue-swapped":
		return "Red and blue are exchanged over the whole panel: check the panel's colour-order setting" + practice + "."
	case "inverted":
		return "Every colour is its complement: check the panel's inversion command" + practice + "."
	case "rotated":
		return fmt.Sprintf("The picture is turned by %v degrees clockwise: check the panel's orientation register%s.", d["angle"], practice)
	case "mirrored":
		if d["axis"] == "x" {
			return "Left and right are exchanged: check the panel's column order" + practice + "."
		}
		return "Top and bottom are exchanged: check the panel's row order" + practice + "."
	case "shifted":
		return fmt.Sprintf("The whole picture stands %s from where it should: check the panel's column and row offsets%s.",
			displacement(d["dx"], d["dy"]), practice)
	case "sheared":
		return fmt.Sprintf("Each row starts %v px further along than it should: the line pitch is wrong; check stride against width%s.", d["stride_off"], practice)
	case "rescaled":
		return fmt.Sprintf("The same content is shown at %.3v times its size: check panel size and scale settings%s.", d["scale"], practice)
	case "tone":
		return fmt.Sprintf("Brightness or contrast changed over the whole panel: gain %.2f, gamma %.2f.", d["gain"], d["gamma"])
	case "fewer-colours":
		return fmt.Sprintf("Only %v bits a channel are left: check the pixel format of buffer and panel%s.", d["bits"], practice)
	case "blank":
		return fmt.Sprintf("The whole panel is %v: nothing was drawn, or it was wiped.", d["colour"])
	case "stale":
		return "The previous look's picture is still there: the screen was not redrawn, or was captured too early."
	case "torn":
		return fmt.Sprintf("Rows above %v and from it on come from two pictures: captured or flushed while the picture changed.", d["row"])
	}
	return "The picture differs, and no cause can be named with confidence."
}

// displacement puts a vector in words: "2 px right and 1 px up".
func displacement(dx, dy any) string {
	x, _ := dx.(int)
	y, _ := dy.(int)
	var h, v string
	switch {
	case x > 0:
		h = fmt.Sprintf("%d px right", x)
	case x < 0:
		h = fmt.Sprintf("%d px left", -x)
	}
	switch {
	case y > 0:
		v = fmt.Sprintf("%d px down", y)
	case y < 0:
		v = fmt.Sprintf("%d px up", -y)
	}
	switch {
	case h == "":
		return v
	case v == "":
		return h
	}
	return h + " and " + v
}

// partSays is the sentence of a finding in one region.
func partSays(name string, d Detail, b image.Rectangle, pixels int) string {
	at := fmt.Sprintf("at %d,%d (%dx%d)", b.Min.X, b.Min.Y, b.Dx(), b.Dy())
	switch name {
	case "moved":
		return fmt.Sprintf("The content %s moved %s.", at, displacement(d["dx"], d["dy"]))
	case "recoloured":
		return fmt.Sprintf("The shape %s changed colour from %v to %v.", at, d["from"], d["to"])
	case "resized":
		return fmt.Sprintf("The shape %s has another size.", at)
	case "text":
		return fmt.Sprintf("The text %s reads differently, in the same style.", at)
	case "edges":
		return fmt.Sprintf("Only the edges %s are drawn differently: anti-aliasing or hinting.", at)
	case "missing":
		return fmt.Sprintf("What stood %s is gone.", at)
	case "added":
		return fmt.Sprintf("There is something new %s.", at)
	case "stale":
		return fmt.Sprintf("The previous look's content is still there %s: this part was not redrawn.", at)
	}
	if d["below"] != nil {
		return fmt.Sprintf("%d px %s differ in the low bytes of 16-bit samples only, which no panel shows.", pixels, at)
	}
	return fmt.Sprintf("%d px %s differ, and no cause can be named with confidence.", pixels, at)
}

func hex(c uint32) string { return fmt.Sprintf("#%06x", c&0xffffff) }

func tooLargeCause() Cause {
	return Cause{Cause: "other", Confidence: 1, Detail: Detail{},
		Says: fmt.Sprintf("A picture has more than %d pixels, which is too large to be compared.", maxPixels)}
}
