//go:build !unix

package sqlite

import (
	"io"
	"os"
)

// lockAll opens a file. Where an open file cannot be renamed, that refuses a bench
// in use.
func lockAll(path string) (io.Closer, error) {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return nil, err
	}
	return f, f.Close()
}
