package lint

import "math"

// large is how tall capitals are in text that WCAG 2 calls large: 18 point, 24 CSS pixels; capitals are about 0.7
// of that (common practice, no source).
const large = 17

// luminance is the relative luminance of WCAG 2: linear sRGB (IEC 61966-2-1), weighted by ITU-R BT.709.
func luminance(c uint32) float64 {
	lin := func(v uint32) float64 { return linear[v&0xff] }
	return 0.2126*lin(c>>16) + 0.7152*lin(c>>8) + 0.0722*lin(c)
}

var linear = func() (t [256]float64) {
	for i := range t {
		if v := float64(i) / 255; v <= 0.04045 {
			t[i] = v / 12.92
		} else {
			t[i] = math.Pow((v+0.055)/1.055, 2.4)
		}
	}
	return t
}()

// ratio is the contrast ratio of WCAG 2, from 1 to 21.
func ratio(a, b uint32) float64 {
	p, q := luminance(a), luminance(b)
	return (max(p, q) + 0.05) / (min(p, q) + 0.05)
}

// contrast finds text that is too pale. The strongest colour of a line counts: soft edges are paler.
func (p *page) contrast(s Settings) []Finding {
	var out []Finding
	for _, l := range p.lines {
		want, kind := s.Text, ""
		if l.height >= large {
			want, kind = s.LargeText, "large "
		}
		if r := ratio(l.ink, p.hue[l.on]); r < want {
			out = append(out, finding(Contrast, l.box, "%stext of #%06x on #%06x has a contrast of %.2f; WCAG 2 (1.4.3, AA) wants %g", kind, l.ink, p.hue[l.on], r, want))
		}
	}
	return out
}
