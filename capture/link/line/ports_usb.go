//go:build !darwin || cgo

package line

import (
	"fmt"

	"go.bug.st/serial/enumerator"
)

// seesUSB: this build knows which USB device a port belongs to.
const seesUSB = true

// Ports lists the serial ports.
func Ports() ([]Port, error) {
	list, err := enumerator.GetDetailedPortsList()
	if err != nil {
		return nil, fmt.Errorf("list the serial ports: %w", err)
	}
	var ports []Port
	for _, p := range list {
		ports = append(ports, Port{Path: p.Name, VID: p.VID, PID: p.PID, Serial: p.SerialNumber, Product: p.Product})
	}
	return ports, nil
}
