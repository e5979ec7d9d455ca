package line

// A Port is a serial port that a device may be on.
type Port struct {
	Path             string
	VID, PID, Serial string // of its USB device, where the build can tell
	Product          string
}
