//go:build unix

package sqlite

import (
	"fmt"
	"io"
	"os"
	"syscall"

	"masstone/recipes/archive/engine"
)

// lockAll takes the lock that SQLite takes to write a file (os.h, PENDING_BYTE and
// what follows), on a file that SQLite may not be able to read any more. Whoever
// has the file open in write-ahead mode holds a share of it. Closing lets go.
func lockAll(path string) (io.Closer, error) {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return nil, err
	}
	whole := syscall.Flock_t{Type: syscall.F_WRLCK, Whence: io.SeekStart, Start: 0x40000000, Len: 512}
	if err := syscall.FcntlFlock(f.Fd(), syscall.F_SETLK, &whole); err != nil {
		f.Close()
		return nil, fmt.Errorf("%w (%w)", engine.ErrBusy, err)
	}
	return f, nil
}
