package golden

import (
	"fmt"
	"path"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// maxName bounds a file name made from a look's name, so that the path fits every system and there
// is room for what the store adds to it.
const maxName = 100

// spelled are letters that have a customary spelling in ASCII, which is kept because it tells words
// apart that a bare letter would not (German: Bär, Bar). All others lose their accents.
var spelled = map[rune]string{
	'ä': "ae", 'ö': "oe", 'ü': "ue", 'ß': "ss",
	'æ': "ae", 'œ': "oe", 'ø': "oe", 'å': "aa",
	'ð': "d", 'đ': "d", 'þ': "th", 'ł': "l", 'ħ': "h", 'ı': "i",
}

// FileName returns the file name, without an ending, for the name of a target, walk, look or bench.
// The rule: letters are put in lower case; ä ö ü ß å æ œ ø ð đ þ ł ħ ı become ae oe ue ss aa ae oe oe d
// d th l h i; other accented Latin letters lose their accents; ASCII letters and digits stay; every run
// of anything else becomes one dash, and dashes at the ends are dropped.
//
// It is an error (ErrName) if nothing is left, if more than 100 characters are left, or if the result
// is a device's name on Windows (con, nul, com1 and the like). Two names with one file name collide;
// callers find that by comparing results. FileName of a file name is that file name.
func FileName(name string) (string, error) {
	var out strings.Builder
	dash := false
	put := func(s string) {
		if dash && out.Len() > 0 {
			out.WriteByte('-')
		}
		dash = false
		out.WriteString(s)
	}
	for _, r := range norm.NFC.String(name) {
		r = unicode.ToLower(r)
		if s, ok := spelled[r]; ok {
			put(s)
			continue
		}
		base := []rune(norm.NFD.String(string(r)))[0]
		switch {
		case base >= 'a' && base <= 'z', base >= '0' && base <= '9':
			put(string(base))
		case unicode.Is(unicode.Mn, r): // an accent that no composed letter exists for
		default:
			dash = true
		}
	}
	switch s := out.String(); {
	case s == "":
		return "", fmt.Errorf("name %q has no ASCII letter or digit to make a file name of: %w", name, ErrName)
	case len(s) > maxName:
		return "", fmt.Errorf("name %q makes a file name of %d characters, the limit is %d: %w", name, len(s), maxName, ErrName)
	case reserved(s):
		return "", fmt.Errorf("name %q would be the file name %q, which Windows keeps for a device: %w", name, s, ErrName)
	default:
		return s, nil
	}
}

// reserved reports names that Windows opens as devices whatever their ending ("Naming Files, Paths,
// and Namespaces" in its documentation).
func reserved(s string) bool {
	switch s {
	case "con", "prn", "aux", "nul":
		return true
	}
	return len(s) == 4 && (s[:3] == "com" || s[:3] == "lpt") && s[3] >= '0' && s[3] <= '9'
}

// key identifies a chain of approvals, by file names.
type key struct {
	target, walk, look string
	photo              string // bench, or "" for an exact capture
}

// key makes the identity of a look from names as people write them.
func (s *Store) key(target, walk, look string) (key, error) {
	return newKey(target, walk, look, s.photo)
}

func newKey(target, walk, look, photo string) (key, error) {
	var k key
	for _, part := range []struct {
		what, name string
		to         *string
	}{
		{"target", target, &k.target}, {"walk", walk, &k.walk}, {"look", look, &k.look}, {"bench", photo, &k.photo},
	} {
		if part.what == "bench" && part.name == "" {
			continue
		}
		var err error
		if *part.to, err = FileName(part.name); err != nil {
			return k, fmt.Errorf("%s: %w", part.what, err)
		}
	}
	return k, nil
}

func (k key) dir() string { return path.Join(k.target, k.walk) }

func (k key) stem() string {
	if k.photo != "" {
		return k.look + ".photo-" + k.photo
	}
	return k.look
}

// file is the golden's path within the folder.
func (k key) file() string { return path.Join(k.dir(), k.stem()+".png") }

// pending is where the picture of the approval with that line hash waits for its line to be recorded.
func (k key) pending(line string) string {
	return path.Join(k.dir(), "."+k.stem()+"."+line+".pending")
}

// keyOf is the reverse of file and pending: line is "" for a golden.
func keyOf(target, walk, file string) (k key, line string, ok bool) {
	k = key{target: target, walk: walk}
	stem, isPNG := strings.CutSuffix(file, ".png")
	if !isPNG {
		rest, isPending := strings.CutSuffix(strings.TrimPrefix(file, "."), ".pending")
		dot := strings.LastIndexByte(rest, '.')
		if !isPending || file[0] != '.' || dot < 0 || !isHash(rest[dot+1:]) {
			return k, "", false
		}
		stem, line = rest[:dot], rest[dot+1:]
	}
	var photo bool
	k.look, k.photo, photo = strings.Cut(stem, ".photo-")
	again, err := newKey(k.target, k.walk, k.look, k.photo)
	return k, line, err == nil && again == k && photo == (k.photo != "")
}

// isHash reports whether s is a SHA-256 in lower-case hex.
func isHash(s string) bool {
	if len(s) != 64 {
		return false
	}
	for _, c := range []byte(s) {
		if (c < '0' || c > '9') && (c < 'a' || c > 'f') {
			return false
		}
	}
	return true
}
