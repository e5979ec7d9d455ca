// Package author writes the files that a person would otherwise write by hand: what a firmware's
// repository needs to begin with (init.go), and a walk from what somebody did on the device
// (watch.go collects it, gestures.go reads it, walk.go writes it down).
package author

import (
	"bytes"
	"encoding/json"
	"regexp"
	"slices"
	"strings"
)

// plain is text that YAML takes for a string without quotes.
var plain = regexp.MustCompile(`^[A-Za-z/]([A-Za-z0-9_./?=&-]|:[A-Za-z0-9/])*( [A-Za-z0-9_./-]+)*$`)

// Words that YAML 1.1 or 1.2 read as something else than a string.
var notText = []string{"y", "n", "yes", "no", "on", "off", "true", "false", "null"}

// scalar writes a text so that YAML reads it as the same text. Quoted JSON strings are YAML.
func scalar(text string) string {
	if plain.MatchString(text) && !slices.Contains(notText, strings.ToLower(text)) {
		return text
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(text); err != nil { // of a string there is no error
		return `""`
	}
	return strings.TrimSuffix(b.String(), "\n")
}
