package picture

import (
	"image"
)

// raster collects the samples of a PPM, PGM or PBM into the image type that holds them exactly
// enough: 8 bits for a maxval up to 255, 16 bits above. Samples are scaled linearly and rounded, so
// that maxval becomes the full 255 or 65535.
type raster struct {
	img   image.Image
	scale []uint16 // sample value -> stored value
	put   func(y, i int, v uint16)
}

func newRaster(p pnm) *raster {
	box := image.Rect(0, 0, p.w, p.h)
	full, wide := 255, p.maxval > 255
	if wide {
		full = 65535
	}
	out := &raster{scale: make([]uint16, p.maxval+1)}
	for v := range out.scale {
		out.scale[v] = uint16((v*full + p.maxval/2) / p.maxval)
	}
	if p.bitmap() {
		out.scale = []uint16{255, 0} // 1 is black
	}
	switch {
	case p.channels() == 1 && !wide:
		g := image.NewGray(box)
		out.img = g
		out.put = func(y, i int, v uint16) { g.Pix[y*g.Stride+i] = byte(v) }
	case p.channels() == 1:
		g := image.NewGray16(box)
		out.img = g
		out.put = func(y, i int, v uint16) { put16(g.Pix[y*g.Stride+2*i:], v) }
	case !wide:
		c := image.NewNRGBA(box)
		for i := 3; i < len(c.Pix); i += 4 {
			c.Pix[i] = 0xff
		}
		out.img = c
		out.put = func(y, i int, v uint16) { c.Pix[y*c.Stride+i/3*4+i%3] = byte(v) }
	default:
		c := image.NewNRGBA64(box)
		for i := 6; i < len(c.Pix); i += 8 {
			c.Pix[i], c.Pix[i+1] = 0xff, 0xff
		}
		out.img = c
		out.put = func(y, i int, v uint16) { put16(c.Pix[y*c.Stride+i/3*8+i%3*2:], v) }
	}
	return out
}

// set stores sample i of row y, counted over all channels; v is at most maxval.
func (r *raster) set(y, i, v int) { r.put(y, i, r.scale[v]) }

func put16(b []byte, v uint16) { b[0], b[1] = byte(v>>8), byte(v) }
