package between

// glass gathers the photos of two runs by benches with a camera. A photo tells of the glass where the framebuffers
// are the same: where these differ, it would only show that once more.
type glass struct {
	pairs               []Look
	same, other, unkept int // looks with two framebuffers alike; unlike; alike, and without a photo on one side
}

// PhotoOf is what the name of a look has added where its photos are compared.
const PhotoOf = " (photo)"

// add takes a look that was paired.
func (g *glass) add(before, after entry, l Look) {
	switch {
	case !before.camera && !after.camera:
		return
	case before.pixels == "" || before.pixels != after.pixels:
		g.other++
		return
	}
	g.same++
	if before.photo == nil || after.photo == nil {
		g.unkept++
		return
	}
	l.Look += PhotoOf
	l.before, l.after, l.photos, l.previous = before.photo, after.photo, true, -1
	g.pairs = append(g.pairs, l)
}

// say tells what was compared of the photos and what could not be.
func (g *glass) say(to *boards) {
	if g.same+g.other == 0 {
		return
	}
	if g.same > 0 {
		to.say("Camera: of %d looks with the same framebuffer %d are compared photo by photo as well.", g.same, len(g.pairs))
	}
	if g.unkept > 0 {
		to.say("Camera: of %d looks one run or both kept no photo, so what the glass shows of them is not compared: camera: {keep: all} in bench.yaml keeps every photo.", g.unkept)
	}
	if g.other > 0 {
		to.say("Camera: of %d looks the framebuffers differ, or one is not known, so their photos are not compared.", g.other)
	}
}
