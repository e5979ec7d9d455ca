package bench

import (
	"errors"

	"github.com/fascia-bench/fascia/capture/link"
)

// ErrNotOperable means that nobody can operate the device through this program.
var ErrNotOperable = errors.New("only a twin that exports fascia_twin_user can be operated from here")

// IsTwin reports whether the device is a twin, on virtual time.
func (d *Device) IsTwin() bool { return d.twin != nil }

// User gives a twin an event as its user would, past the agent: the firmware reports it as observed input.
func (d *Device) User(e link.Event) error {
	if d.twin == nil || e.Kind == link.Text {
		return ErrNotOperable
	}
	_, err := d.twin.Call("fascia_twin_user", uint64(e.Kind), uint64(uint32(int32(e.A))), uint64(uint32(int32(e.B))), uint64(e.C))
	if err != nil {
		return errors.Join(ErrNotOperable, err)
	}
	return nil
}
