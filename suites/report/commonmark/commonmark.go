// Package commonmark writes text so that Markdown shows it as it is.
package commonmark

import "strings"

// Text escapes what CommonMark takes for markup (specification 0.31, section 2.4: any ASCII punctuation may be
// escaped), also where a table or a mention of people and issues is made of it, and keeps it on one line.
func Text(s string) string {
	var o strings.Builder
	for _, r := range strings.Join(strings.Fields(s), " ") {
		if strings.ContainsRune("\\`*_{}[]()<>#+!|~&\"@", r) {
			o.WriteByte('\\')
		}
		o.WriteRune(r)
	}
	return o.String()
}
