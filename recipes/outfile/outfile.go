// Package outfile writes the files that people ask for: a bundle, a paper, a
// chart, a table, a copy of the bench. A file is written whole or not at all, and
// never over what must stay.
//
// It is filled under another name in its folder, synced, and put in its place
// when it is complete; then the folder is synced. What a killed program leaves of
// it is called .masstone-*.part, and the next file that is written into the
// folder clears that away.
//
// A bench, a copy of one, what SQLite keeps beside it, a bundle that holds
// something else, and whatever is no plain file (a device, a pipe) are never
// written over; other files only if Over says so. A symbolic link is followed.
package outfile

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"masstone/color/remedy"
)

// A File is where to write.
type File struct {
	Path  string
	Name  string // as messages call it; Path if empty
	Over  bool   // write over what is there already
	Owner bool   // for its owner alone, since it holds clients' data; else as the umask says
	Holds string // what the bundle holds that is written; empty for no bundle

	Written func() // hears that it is in its place; nil for nobody
}

func (f File) name() string {
	if f.Name != "" {
		return f.Name
	}
	return f.Path
}

// Check says why a file cannot be written, before anything is worked out for it.
func (f File) Check() error {
	_, err := f.place()
	return err
}

// Write writes what fill gives.
func (f File) Write(fill func(io.Writer) error) error {
	return f.replace(func(p *part) error {
		w := &broken{w: p.file}
		b := bufio.NewWriter(w)
		if err := fill(b); err != nil && w.err == nil {
			return err
		}
		if err := errors.Join(w.err, b.Flush()); err != nil {
			return f.blame(err)
		}
		return nil
	})
}

// WriteTo has fill write the file under the name it is given, where an empty
// file is; fill has closed it when it returns.
func (f File) WriteTo(fill func(path string) error) error {
	return f.replace(func(p *part) error { return fill(p.path) })
}

// replace fills a part and puts it in the file's place.
func (f File) replace(fill func(*part) error) error {
	path, err := f.place()
	if err != nil {
		return err
	}
	mode := os.FileMode(0o666)
	if f.Owner {
		mode = 0o600
	}
	folder := filepath.Dir(path)
	clearParts(folder)
	p, err := newPart(folder, mode)
	if err != nil {
		return f.blame(err)
	}
	defer p.drop()
	if err := fill(p); err != nil {
		return err
	}
	if _, err := f.place(); err != nil { // something may have come there meanwhile
		return err
	}
	err = f.put(p, path)
	switch {
	case errors.Is(err, os.ErrExist):
		return f.taken()
	case err != nil:
		return f.blame(err)
	}
	syncFolder(folder)
	if f.Written != nil {
		f.Written()
	}
	return nil
}

// put syncs a part and gives it the file's name. A file that is written over keeps
// its permissions.
func (f File) put(p *part, path string) error {
	if was, err := os.Lstat(path); err == nil && !f.Owner {
		if err := p.file.Chmod(was.Mode().Perm()); err != nil {
			return err
		}
	}
	if err := p.file.Sync(); err != nil {
		return err
	}
	release(p.file)
	if f.Over {
		return os.Rename(p.path, path)
	}
	// A link fails where the name is taken; a rename would replace it. Some file
	// systems have no links.
	err := os.Link(p.path, path)
	if err == nil || errors.Is(err, os.ErrExist) {
		return err
	}
	return os.Rename(p.path, path)
}

// blame is an error of the file system as one line, without the name of the
// part.
func (f File) blame(err error) error {
	var p *os.PathError
	var l *os.LinkError
	if errors.As(err, &p) {
		err = p.Err
	} else if errors.As(err, &l) {
		err = l.Err
	}
	return fmt.Errorf("%s: cannot be written (%w); check the name, the folder and its permissions, and the room on the disk", f.name(), err)
}

// taken is the error of a name that is in use.
func (f File) taken() error {
	return fmt.Errorf("%s: %w; name another file, or add %s", f.name(), ErrExists, remedy.Input("overwrite"))
}

// broken remembers why a file could not be written, whatever those who fill it
// make of that.
type broken struct {
	w   io.Writer
	err error
}

func (b *broken) Write(data []byte) (int, error) {
	n, err := b.w.Write(data)
	if b.err == nil {
		b.err = err
	}
	return n, err
}

// syncFolder syncs a folder's list of names, where that can be done.
func syncFolder(path string) {
	if f, err := os.Open(path); err == nil {
		f.Sync()
		f.Close()
	}
}
