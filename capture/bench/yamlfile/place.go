package yamlfile

// Place is where the node begins.
func (n Node) Place() Place {
	t := n.tok()
	return Place{n.file, t.Position.Line, t.Position.Column}
}

// A Place in a file is what to keep of a node that has been read: a node holds on to all that the
// file was parsed into, many times its size.
type Place struct {
	file         *file
	line, column int // from 1
}

// Errorf makes an error that points at the place.
func (p Place) Errorf(format string, args ...any) *Error {
	return p.file.errorAt(p.line, p.column, format, args...)
}

// Valid reports whether there is a place.
func (p Place) Valid() bool { return p.file != nil }

// Path is the file's path as it was given to Read.
func (p Place) Path() string { return p.file.path }

// Line is the line in the file, from 1.
func (p Place) Line() int { return p.line }
