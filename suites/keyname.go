package suites

// KeyName is the name that a walk has for a key, by its USB HID usage page and id.
func KeyName(page, id uint16) (string, bool) {
	for _, name := range keyNames() {
		if keyTable()[name] == (usage{page, id}) && shortKeys[name] == "" {
			return name, true
		}
	}
	return "", false
}

// KeyUsage is the USB HID usage page and id of a key by its name.
func KeyUsage(name string) (page, id uint16, ok bool) {
	u, ok := keyTable()[name]
	return u.page, u.id, ok
}
