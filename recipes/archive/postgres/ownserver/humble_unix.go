//go:build unix

package ownserver

import (
	"net"
	"os"
	"os/exec"
	"os/user"
	"strconv"
	"syscall"
)

// humbly has a program run as somebody without rights, which the server insists on,
// and gives them the folder.
func humbly(cmd *exec.Cmd, folder string) error {
	cmd.Dir = folder
	if os.Geteuid() != 0 {
		return nil
	}
	u, err := user.Lookup("postgres")
	if err != nil {
		if u, err = user.Lookup("nobody"); err != nil {
			return err
		}
	}
	uid, _ := strconv.Atoi(u.Uid)
	gid, _ := strconv.Atoi(u.Gid)
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}}
	if err := os.Chmod(folder, 0o755); err != nil {
		return err
	}
	return os.Chown(folder, uid, gid)
}

// freePort is a port that nobody listens on.
func freePort() (int, error) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return 0, err
	}
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port, nil
}
