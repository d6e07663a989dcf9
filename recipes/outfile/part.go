package outfile

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
)

// A part is a file that is being filled. A lock on it, which ends with the
// program, tells it from what a killed program left.
type part struct {
	path string
	file *os.File
}

func newPart(folder string, mode os.FileMode) (*part, error) {
	for {
		path := filepath.Join(folder, fmt.Sprintf(".masstone-%016x.part", rand.Uint64()))
		file, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, mode)
		if errors.Is(err, os.ErrExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		p := &part{path, file}
		hold(file)
		if p.isThere() {
			return p, nil
		}
		p.drop() // another program took it for a leftover before it was held
	}
}

// isThere tells whether the part still has its name.
func (p *part) isThere() bool {
	mine, err := p.file.Stat()
	if err != nil {
		return false
	}
	named, err := os.Lstat(p.path)
	return err == nil && os.SameFile(mine, named)
}

// drop removes the part, which by then may have another name.
func (p *part) drop() {
	p.file.Close()
	os.Remove(p.path)
}

// Part makes an empty file in a folder for what another program fills, which a
// later write into the folder clears away if this one is killed. drop removes it,
// unless it was renamed by then.
func Part(folder string) (path string, drop func(), err error) {
	clearParts(folder)
	p, err := newPart(folder, 0o600)
	if err != nil {
		return "", nil, err
	}
	release(p.file)
	return p.path, p.drop, nil
}

// clearParts removes what killed programs left in a folder, and what SQLite kept
// beside it.
func clearParts(folder string) {
	names, _ := os.ReadDir(folder)
	for _, name := range names {
		if ours, _ := filepath.Match(".masstone-*.part*", name.Name()); !ours || !name.Type().IsRegular() {
			continue
		}
		path := filepath.Join(folder, name.Name())
		stem, _, _ := strings.Cut(path, ".part")
		if held(stem + ".part") {
			continue
		}
		os.Remove(path)
	}
}

// held tells whether a program that runs is filling a part.
func held(path string) bool {
	file, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return !errors.Is(err, os.ErrNotExist)
	}
	defer file.Close()
	return !hold(file)
}
