package outfile

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
)

// What stands in the way of a file, for errors.Is.
var (
	ErrExists = errors.New("is there already")
	ErrStays  = errors.New("is not written over")
)

// place is where the file really goes, behind symbolic links.
func (f File) place() (string, error) {
	if f.Path == "" {
		return "", errors.New("the name of the file to write is empty; name a file")
	}
	path, err := followed(f.Path)
	if err != nil {
		return "", f.blame(err)
	}
	if info, err := os.Stat(filepath.Dir(path)); err != nil {
		return "", f.blame(err)
	} else if !info.IsDir() {
		return "", fmt.Errorf("%s: lies in no folder; check the name", f.name())
	}
	if of, beside := besideBench(path); beside {
		return "", fmt.Errorf("%s: %w: it belongs to the bench %s; name another file", f.name(), ErrStays, of)
	}
	info, err := os.Lstat(path)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return path, nil
	case err != nil:
		return "", f.blame(err)
	case info.IsDir():
		return "", fmt.Errorf("%s: is a folder; name a file in it", f.name())
	case !info.Mode().IsRegular():
		return "", fmt.Errorf("%s: %w: it is no plain file; name another one", f.name(), ErrStays)
	case info.Mode().Perm()&0o200 == 0:
		return "", fmt.Errorf("%s: %w: it is read-only; name another file", f.name(), ErrStays)
	}
	if err := f.spares(path); err != nil {
		return "", err
	}
	if !f.Over {
		return "", f.taken()
	}
	return path, nil
}

// mostLinks is how many symbolic links one behind the other are followed.
const mostLinks = 40

// followed is the path behind symbolic links; there need be nothing yet.
func followed(path string) (string, error) {
	for range mostLinks {
		info, err := os.Lstat(path)
		if err != nil || info.Mode()&os.ModeSymlink == 0 {
			return path, nil // what is wrong with it shows later
		}
		to, err := os.Readlink(path)
		if err != nil {
			return "", err
		}
		if !filepath.IsAbs(to) {
			to = filepath.Join(filepath.Dir(path), to)
		}
		path = to
	}
	return "", errors.New("its symbolic links go in a circle")
}

// Files of SQLite and bundles are known by how they begin.
var (
	databaseHead = []byte("SQLite format 3\x00")
	logHeads     = [][]byte{{0x37, 0x7f, 0x06, 0x82}, {0x37, 0x7f, 0x06, 0x83}, {0xd9, 0xd5, 0x05, 0xf9, 0x20, 0xa1, 0x63, 0xd7}} // -wal, -journal
	bundleHead   = []byte(`{"bundle":"masstone",`)
)

// spares refuses to write over a bench, and over a bundle of something else.
func (f File) spares(path string) error {
	head, err := headOf(path)
	if err != nil {
		return f.blame(err)
	}
	if bytes.HasPrefix(head, databaseHead) {
		return fmt.Errorf("%s: %w: it is a bench, a copy of one or another database; name another file", f.name(), ErrStays)
	}
	for _, log := range logHeads {
		if bytes.HasPrefix(head, log) {
			return fmt.Errorf("%s: %w: it belongs to a bench or another database; name another file", f.name(), ErrStays)
		}
	}
	if !bytes.HasPrefix(head, bundleHead) {
		return nil
	}
	line, _, _ := bytes.Cut(head, []byte("\n"))
	var bundle struct{ Holds string }
	if err := json.Unmarshal(line, &bundle); err != nil || bundle.Holds != f.Holds || f.Holds == "" {
		return fmt.Errorf("%s: %w: it is a bundle that holds %q; name another file", f.name(), ErrStays, bundle.Holds)
	}
	return nil
}

// headOf is how a file begins.
func headOf(path string) ([]byte, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	return io.ReadAll(io.LimitReader(file, 4096))
}

// besideBench tells whether a path is that of a file that SQLite keeps beside a
// bench, and of which.
func besideBench(path string) (bench string, beside bool) {
	for _, end := range []string{"-wal", "-shm", "-journal"} {
		if bench, found := strings.CutSuffix(path, end); found {
			head, err := headOf(bench)
			return filepath.Base(bench), err == nil && bytes.HasPrefix(head, databaseHead)
		}
	}
	return "", false
}
