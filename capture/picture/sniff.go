package picture

import (
	"bytes"
	"fmt"
	"unicode/utf8"
)

// kind is a family of formats with one decoder.
type kind int

const (
	kindForeign kind = iota
	kindPNG
	kindJPEG
	kindPNM
)

// sniffLen is how many bytes are looked at to tell a format.
const sniffLen = 64

// sniff tells a format by its first bytes, never by the file's name.
func sniff(head []byte) kind {
	switch {
	case bytes.HasPrefix(head, []byte("\x89PNG\r\n\x1a\n")):
		return kindPNG
	case bytes.HasPrefix(head, []byte("\xff\xd8\xff")):
		return kindJPEG
	case len(head) >= 3 && head[0] == 'P' && head[1] >= '1' && head[1] <= '6' && (isSpace(head[2]) || head[2] == '#'):
		return kindPNM
	}
	return kindForeign
}

// marks are formats that people hand over by mistake, so that the error can say what was seen.
var marks = []struct{ prefix, says string }{
	{"GIF87a", "a GIF: convert it to PNG"},
	{"GIF89a", "a GIF: convert it to PNG"},
	{"BM", "a BMP: convert it to PNG"},
	{"II*\x00", "a TIFF or camera raw file: convert it to PNG"},
	{"MM\x00*", "a TIFF or camera raw file: convert it to PNG"},
	{"P7\n", "a PAM: convert it to PNG or PPM"},
	{"PF\n", "a floating-point map: convert it to PNG or PPM"},
	{"qoif", "a QOI: convert it to PNG"},
	{"%PDF", "a PDF"},
	{"PK\x03\x04", "a ZIP archive: unpack it first"},
	{"\x1f\x8b", "gzip data: unpack it first"},
	{"\x28\xb5\x2f\xfd", "zstd data: unpack it first"},
	{"\xfd7zXZ", "xz data: unpack it first"},
	{"\x7fELF", "a program (ELF), not its picture"},
	{"\x00asm", "WebAssembly, not its picture"},
	{"version https://git-lfs", "a Git LFS pointer: run git lfs pull to get the file it stands for"},
	{"<svg", "an SVG drawing: draw it as PNG first"},
	// A PNG that went through a text-mode transfer: its signature exists to show just that.
	{"\x89PNG\n\x1a\n", "a PNG whose line ends were converted (by git or a text-mode copy): store it as binary"},
	{"\x89PNG\r\r\n", "a PNG whose line ends were converted (by git or a text-mode copy): store it as binary"},
	{"\xef\xbf\xbdPNG", "a PNG that was read as text and written again: copy it as binary"},
}

// foreign says what head looks like.
func foreign(head []byte) error {
	switch {
	case len(head) == 0:
		return fmt.Errorf("the file is empty: %w", ErrTruncated)
	case bytes.HasPrefix([]byte("\x89PNG\r\n\x1a\n"), head):
		return fmt.Errorf("the file ends within the signature of a PNG: %w", ErrTruncated)
	case bytes.HasPrefix([]byte("\xff\xd8\xff"), head):
		return fmt.Errorf("the file ends within the signature of a JPEG: %w", ErrTruncated)
	case string(head) == "P", len(head) == 2 && head[0] == 'P' && head[1] >= '1' && head[1] <= '6':
		return fmt.Errorf("the file ends after %q, the start of a PPM, PGM or PBM: %w", head, ErrTruncated)
	}
	return fmt.Errorf("this is %s: %w", guess(head), ErrFormat)
}

func guess(head []byte) string {
	for _, m := range marks {
		if bytes.HasPrefix(head, []byte(m.prefix)) {
			return m.says
		}
	}
	if len(head) >= 12 {
		if string(head[:4]) == "RIFF" && string(head[8:12]) == "WEBP" {
			return "a WebP: convert it to PNG"
		}
		if string(head[4:8]) == "ftyp" {
			return "a HEIC, AVIF or video file: convert it to PNG or JPEG"
		}
	}
	trimmed := bytes.TrimLeft(head, " \t\r\n\ufeff")
	switch {
	case bytes.HasPrefix(trimmed, []byte("<")):
		return "a page or other markup, not a picture"
	case bytes.HasPrefix(trimmed, []byte("{")), bytes.HasPrefix(trimmed, []byte("[")):
		return "JSON, not a picture"
	case isText(head):
		return fmt.Sprintf("text, starting %q", cut(head, 16))
	}
	return fmt.Sprintf("no known format, starting %x", cut(head, 8))
}

// isText reports whether head, perhaps cut within a rune, is readable text.
func isText(head []byte) bool {
	for len(head) > 0 {
		r, n := utf8.DecodeRune(head)
		if r == utf8.RuneError && n == 1 {
			return len(head) < utf8.UTFMax && !utf8.FullRune(head)
		}
		if r < ' ' && r != '\t' && r != '\n' && r != '\r' {
			return false
		}
		head = head[n:]
	}
	return true
}

func cut(b []byte, n int) []byte { return b[:min(n, len(b))] }

func isSpace(c byte) bool {
	return c == ' ' || c == '\t' || c == '\n' || c == '\v' || c == '\f' || c == '\r'
}
