package link

// Mark remembers what is known of the device and returns a function that goes back to that: for a
// device whose own state is brought back at the same time.
func (c *Conn) Mark() (back func()) {
	hello, known, generation, tag, acted := c.hello, c.known, c.generation, c.tag, c.acted
	return func() {
		c.hello, c.known, c.generation = hello, known, generation
		// The device takes a request with the tag of its last action for a repeat, so tags go back as well.
		c.tag, c.acted = tag, acted
		c.got = nil
		c.split.pending, c.split.inside = nil, false
	}
}
