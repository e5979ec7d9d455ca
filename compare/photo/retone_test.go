package photo

import (
	"math"
	"testing"
)

// TestRetone: tones that are off by half a per cent of white in the middle are put right by two photos of even colours, whose gains are
// their own.
func TestRetone(t *testing.T) {
	const w, h, off = 96, 64, 0.005
	o := &Optics{Colour: [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}}
	o.Geometry.Panel = [2]int{w, h}
	truth := func(code int) float64 { return math.Pow(float64(code)/255, 2.2) }
	for d := range o.Tones {
		for code := range 256 {
			l := truth(code)
			o.Tones[d][code] = float32(l - off*4*l*(1-l))
		}
	}
	var shown []*screen
	var views []*sight
	for i := range 2 {
		s := &screen{w: w, h: h, stride: w + 2*border}
		v := &sight{}
		v.room(w * h)
		for c := range 3 {
			s.light[c], s.vary[c] = make([]float32, s.stride*(h+2*border)), make([]float32, s.stride*(h+2*border))
			for k := range w * h {
				code := (k%w/8*21 + k/w/8*40 + 90*c + 50*i) % 256
				s.light[c][s.at(k%w, k/w)] = o.Tones[c][code]
				v.want[c][k] = o.Tones[c][code]
				v.noise[c][k] = 1e-4
				v.left[c][k] = float32(truth(code)) - o.Tones[c][code] + float32(0.02*float64(i))*v.want[c][k]
			}
		}
		s.spread()
		shown, views = append(shown, s), append(views, v)
	}
	o.retone(shown, views)
	for d := range o.Tones {
		var up, down float64 // a scale of all codes is the kernel's
		for code := range 256 {
			up, down = up+truth(code)*float64(o.Tones[d][code]), down+truth(code)*truth(code)
		}
		for code := range 256 {
			if e := math.Abs(float64(o.Tones[d][code])*down/up - truth(code)); e > 0.001 {
				t.Fatalf("tone %d of code %d is %.4f off, was up to %.4f", d, code, e, off)
			}
		}
	}
	if l, code := shown[0].light[0][shown[0].at(20, 20)], (20/8*21+20/8*40)%256; l != o.Tones[0][code] {
		t.Errorf("a screen's light is %v, the tone %v", l, o.Tones[0][code])
	}
}
