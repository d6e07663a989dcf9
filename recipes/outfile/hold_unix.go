//go:build darwin || dragonfly || freebsd || illumos || linux || netbsd || openbsd

package outfile

import (
	"os"
	"syscall"
)

// hold locks a file until it is closed or the program ends; it does not wait, and
// tells whether it could.
func hold(file *os.File) bool {
	return syscall.Flock(int(file.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) == nil
}

// release has nothing to do where a file that is open can be renamed.
func release(*os.File) {}
