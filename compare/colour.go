package compare

import (
	"image/color"
	"math"
)

// Lab is a colour of CIE 1976 L*a*b* (ISO/CIE 11664-4).
type Lab struct{ L, A, B float64 }

// sRGBToXYZ is the matrix that IEC 61966-2-1 prints. Its row sums are taken as the white,
// so that greys have a = b = 0 exactly.
var sRGBToXYZ = [3][3]float64{{0.4124, 0.3576, 0.1805}, {0.2126, 0.7152, 0.0722}, {0.0193, 0.1192, 0.9505}}

// linear holds the linear light, 0 to 1, of an 8-bit sRGB value (IEC 61966-2-1).
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

// LabOf converts an sRGB colour, laid on black, at 8 bits a channel.
func LabOf(c color.Color) Lab {
	r, g, b, _ := c.RGBA()
	return labOf(r>>8<<16 | g>>8<<8 | b>>8)
}

func labOf(c uint32) Lab {
	in := [3]float64{linear[c>>16&0xff], linear[c>>8&0xff], linear[c&0xff]}
	var f [3]float64
	for i, row := range sRGBToXYZ {
		v := (row[0]*in[0] + row[1]*in[1] + row[2]*in[2]) / (row[0] + row[1] + row[2])
		if d := 6.0 / 29; v > d*d*d {
			f[i] = math.Cbrt(v)
		} else {
			f[i] = v/(3*d*d) + 4.0/29
		}
	}
	return Lab{116*f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])}
}

// ColourDifference is CIEDE2000 with kL = kC = kH = 1, where a difference of about 1 can
// just be seen side by side. Formula and numbering after G. Sharma, W. Wu, E. N. Dalal,
// Color Research and Application 30(1), 2005.
func ColourDifference(p, q Lab) float64 {
	const pow7of25 = 6103515625                                      // 25^7
	c7 := math.Pow((math.Hypot(p.A, p.B)+math.Hypot(q.A, q.B))/2, 7) // (3)
	g := 0.5 * (1 - math.Sqrt(c7/(c7+pow7of25)))                     // (4)
	a1, a2 := (1+g)*p.A, (1+g)*q.A                                   // (5)
	c1, c2 := math.Hypot(a1, p.B), math.Hypot(a2, q.B)               // (6)
	h1, h2 := hue(a1, p.B), hue(a2, q.B)                             // (7)

	dL, dC := q.L-p.L, c2-c1 // (8), (9)
	dh, hm := hueStep(h1, h2, c1*c2 == 0)
	dH := 2 * math.Sqrt(c1*c2) * sinDeg(dh/2) // (11)

	lm, cm := (p.L+q.L)/2, (c1+c2)/2                                                             // (12), (13)
	t := 1 - 0.17*cosDeg(hm-30) + 0.24*cosDeg(2*hm) + 0.32*cosDeg(3*hm+6) - 0.20*cosDeg(4*hm-63) // (15)
	dTheta := 30 * math.Exp(-(hm-275)/25*(hm-275)/25)                                            // (16)
	cm7 := math.Pow(cm, 7)
	rc := 2 * math.Sqrt(cm7/(cm7+pow7of25))                       // (17)
	sl := 1 + 0.015*(lm-50)*(lm-50)/math.Sqrt(20+(lm-50)*(lm-50)) // (18)
	sc, sh := 1+0.045*cm, 1+0.015*cm*t                            // (19), (20)
	rt := -sinDeg(2*dTheta) * rc                                  // (21)
	l, c, h := dL/sl, dC/sc, dH/sh
	return math.Sqrt(max(0, l*l+c*c+h*h+rt*c*h)) // (22)
}

// hue is in degrees, 0 to 360. Where there is none it counts for nothing.
func hue(a, b float64) float64 {
	h := math.Atan2(b, a) * 180 / math.Pi
	if h < 0 {
		h += 360
	}
	return h
}

// hueStep gives the difference (10) and the mean (14) of two hues.
//
// At a difference of exactly 180 degrees, as in pairs 9 to 16 of the published table, which
// way round is taken hangs on the last bit of two arctangents. The difference is therefore
// held to be 180 within 1e-10 degrees, which makes the outcome the same both ways round.
func hueStep(h1, h2 float64, grey bool) (diff, mean float64) {
	if grey {
		return 0, h1 + h2
	}
	diff, mean = h2-h1, (h1+h2)/2
	const slack = 1e-10
	if math.Abs(diff) <= 180+slack {
		return diff, mean
	}
	if diff > 0 {
		diff -= 360
	} else {
		diff += 360
	}
	if h1+h2 < 360 {
		return diff, mean + 180
	}
	return diff, mean - 180
}

func sinDeg(d float64) float64 { return math.Sin(d * math.Pi / 180) }
func cosDeg(d float64) float64 { return math.Cos(d * math.Pi / 180) }
