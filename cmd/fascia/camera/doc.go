// Package camera holds tests of a whole bench with a camera, simulated on loopback: patterns over the link, photos over
// HTTP, alignment into bench.yaml, looks by both. They are a package of their own since learning a bench takes
// its time.
package camera
