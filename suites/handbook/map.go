package handbook

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"html"
	"image"
	"strings"

	"github.com/disintegration/imaging"

	"github.com/fascia-bench/fascia/capture/picture"
)

// drawMap draws all screens and the ways between them as SVG: each a link to its page, with its golden made
// small. A line with an arrow at both ends leads both ways. Alone, it brings its colours with it.
func (b *Book) drawMap(alone bool) string {
	thumb := map[*Screen]string{}
	high := 30.0
	for _, s := range b.Screens {
		v := s.Easiest()
		if v == nil {
			continue
		}
		for _, p := range v.Pictures {
			if p.img == nil {
				continue
			}
			const wide = boxWide - 12
			h := wide * p.Size.Y / p.Size.X
			if h > wide {
				h = wide
			}
			high = max(high, float64(h))
			small := imaging.Fit(picture.Pix(p.img), 2*wide, 2*h, imaging.Box)
			var png bytes.Buffer
			if err := picture.EncodePNG(&png, small); err == nil {
				thumb[s] = "data:image/png;base64," + base64.StdEncoding.EncodeToString(png.Bytes())
			}
			break
		}
	}
	boxes, courses, w, h := b.layout(high)
	var o strings.Builder
	fmt.Fprintf(&o, `<svg class="map" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %.0f %.0f" width="%.0f" height="%.0f"`, w, h, w, h)
	if alone {
		fmt.Fprintf(&o, ` role="img" aria-label="Map of screens"><style>%s</style><rect width="100%%" height="100%%" fill="#f3f4f1"/>`, mapCSS)
	} else {
		o.WriteString(` role="group" aria-label="Map of screens">`)
	}
	o.WriteString(`<defs><marker id="arrow" viewBox="0 0 10 10" refX="9" refY="5" markerWidth="7" markerHeight="7" orient="auto-start-reverse"><path d="M0 1 10 5 0 9z"/></marker></defs>`)
	for _, c := range courses {
		c.draw(&o)
	}
	for _, x := range boxes {
		if x.s != nil {
			x.draw(&o, thumb[x.s], high)
		}
	}
	o.WriteString("</svg>")
	return o.String()
}

func (c *course) draw(o *strings.Builder) {
	first, last := c.boxes[0], c.boxes[len(c.boxes)-1]
	ends := ""
	if len(c.there) > 0 {
		ends += ` marker-end="url(#arrow)"`
	}
	if len(c.back) > 0 {
		ends += ` marker-start="url(#arrow)"`
	}
	class := "way"
	if len(c.there) == 0 {
		class = "way back"
	}
	var d strings.Builder
	right := func(b *box) (x, y float64) { return b.x + b.w, b.y + b.h/2 }
	x, y := right(first)
	fmt.Fprintf(&d, "M%.1f %.1f", x, y)
	if c.loopsAside {
		tx, ty := right(last)
		fmt.Fprintf(&d, "C%.1f %.1f %.1f %.1f %.1f %.1f", x+44, y, tx+44, ty, tx, ty)
	} else {
		for _, b := range c.boxes[1:] {
			tx, ty := b.x, b.y+b.h/2
			mid := (tx - x) / 2
			fmt.Fprintf(&d, "C%.1f %.1f %.1f %.1f %.1f %.1f", x+mid, y, tx-mid, ty, tx, ty)
			x, y = tx, ty
		}
	}
	var words []string
	for _, w := range append(append([]*Way{}, c.there...), c.back...) {
		words = append(words, fmt.Sprintf("%s to %s: %s", w.From.Name, w.To.Name, orByItself(says(w.Inputs))))
	}
	fmt.Fprintf(o, `<path class="%s" d="%s"%s><title>%s</title></path>`, class, d.String(), ends, html.EscapeString(strings.Join(words, "\n")))
}

func orByItself(words string) string {
	if words == "" {
		return "by itself"
	}
	return words
}

func (x *box) draw(o *strings.Builder, thumb string, high float64) {
	fmt.Fprintf(o, `<a href="%s"><rect class="plate" x="%.1f" y="%.1f" width="%.0f" height="%.1f" rx="5"/>`, x.s.Page(), x.x, x.y, x.w, x.h)
	if thumb != "" {
		fmt.Fprintf(o, `<image x="%.1f" y="%.1f" width="%.0f" height="%.1f" href="%s"/>`, x.x+6, x.y+6, x.w-12, high, thumb)
	} else {
		fmt.Fprintf(o, `<text class="none" x="%.1f" y="%.1f">no picture</text>`, x.x+x.w/2, x.y+high/2+8)
	}
	name := []rune(x.s.Name)
	if len(name) > 17 {
		name = append(name[:16], '…')
	}
	fmt.Fprintf(o, `<text x="%.1f" y="%.1f">%s</text></a>`, x.x+x.w/2, x.y+high+24, html.EscapeString(string(name)))
}

// mapCSS is what the map needs where no page brings its own.
const mapCSS = `.way{fill:none;stroke:#1b5c8c;stroke-width:1.6}.back{stroke:#52606a;stroke-dasharray:4 3}marker path{fill:#1b5c8c}` +
	`.plate{fill:#e5e8e4;stroke:#b7c0bf}text{font:13px "DejaVu Sans",sans-serif;text-anchor:middle;fill:#1d2528}.none{fill:#52606a}`

// sizeIn is a picture's size on a page.
func sizeIn(size image.Point, room int) image.Point {
	if size.X <= room || size.X == 0 {
		k := max(1, room/max(size.X, 1))
		return size.Mul(min(k, 2))
	}
	return image.Pt(room, size.Y*room/size.X)
}
