package suites

import (
	_ "embed"
	"encoding/csv"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// A usage is a key by its USB HID usage page and id.
type usage struct{ page, id uint16 }

//go:embed hid_usages.csv
var usagesCSV string

// short names for the modifiers, since chords are written often: [ctrl, a]
var shortKeys = map[string]string{"ctrl": "left_ctrl", "shift": "left_shift", "alt": "left_alt", "gui": "left_gui"}

// keyTable maps key names to usages, from the USB-IF HID Usage Tables (hid_usages.csv names its source).
var keyTable = sync.OnceValue(func() map[string]usage {
	r := csv.NewReader(strings.NewReader(usagesCSV))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		panic(err) // the table is part of the program; its test reads it
	}
	table := map[string]usage{}
	for _, row := range rows[1:] {
		page, err1 := strconv.ParseUint(row[0], 0, 16)
		id, err2 := strconv.ParseUint(row[1], 0, 16)
		if err1 == nil && err2 == nil {
			table[row[2]] = usage{uint16(page), uint16(id)}
		}
	}
	for short, long := range shortKeys {
		table[short] = table[long]
	}
	return table
})

// keyNames lists the names that a walk may use.
func keyNames() []string {
	var names []string
	for name := range keyTable() {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}
