//go:build darwin && !cgo

package line

import (
	"fmt"

	"go.bug.st/serial"
)

// seesUSB: on macOS asking for a port's USB device takes cgo.
const seesUSB = false

// Ports lists the serial ports by path.
func Ports() ([]Port, error) {
	list, err := serial.GetPortsList()
	if err != nil {
		return nil, fmt.Errorf("list the serial ports: %w", err)
	}
	var ports []Port
	for _, p := range list {
		ports = append(ports, Port{Path: p})
	}
	return ports, nil
}
