package compare

// sheared: the line pitch is wrong, capture[y][x] is pixel y*(width+k)+x of the golden.
func (p *pair) sheared() (fault, bool) {
	if p.w < 4 || p.h < 4 {
		return fault{}, false
	}
	all := probesIn(p.c16, p.w, p.h, 1200)
	var probes []probe
	for _, q := range all {
		if q.y >= 2 { // the first rows say little about the pitch
			probes = append(probes, q)
		}
	}
	if len(probes) < 12 {
		return fault{}, false
	}
	best, k := 0.0, 0
	for t := -p.w / 2; t <= p.w/2; t++ {
		if t == 0 {
			continue
		}
		hit, n := 0, 0
		for _, q := range probes {
			i := q.y*(p.w+t) + q.x
			if i+1 >= len(p.g16) {
				continue
			}
			n++
			c := q.y*p.w + q.x
			if p.g16[i] == p.c16[c] && p.g16[i+1] == p.c16[c+1] {
				hit++
			} else if n-hit > 12 && hit < n/2 {
				break
			}
		}
		if n < 12 {
			continue
		}
		if s := float64(hit) / float64(n); s > best {
			best, k = s, t
		}
	}
	if best < 0.6 {
		return fault{}, false
	}
	f := fault{cause: whole("sheared", Detail{"stride_off": k}), expect: make([]uint16, len(p.g16)), known: make([]bool, len(p.g16))}
	refused, changed := 0, 0
	for y := range p.h {
		for x := range p.w {
			i, from := y*p.w+x, y*(p.w+k)+x
			if from >= len(p.g16) {
				continue
			}
			f.expect[i], f.known[i] = p.g16[from], true
			if p.g16[i] != p.c16[i] && p.counts(i) {
				changed++
			}
			if p.g16[from] != p.c16[i] && p.counts(i) {
				f.left++
				if p.g16[i] == p.c16[i] {
					refused++
				}
			}
		}
	}
	return f, changed > 0 && f.left*leftShare <= changed && refused*refusedShare <= changed
}
