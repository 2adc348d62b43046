package store

import (
	"golang.org/x/sys/unix"
)

// remoteDisk reports whether dir lies on a network file system known to the kernel.
func remoteDisk(dir string) (bool, error) {
	var st unix.Statfs_t
	if err := unix.Statfs(dir, &st); err != nil {
		return false, err
	}
	switch uint32(st.Type) { // which 32-bit systems keep with a sign
	case unix.NFS_SUPER_MAGIC, unix.SMB_SUPER_MAGIC, unix.SMB2_SUPER_MAGIC, unix.CIFS_SUPER_MAGIC,
		unix.AFS_SUPER_MAGIC, unix.CEPH_SUPER_MAGIC, unix.V9FS_MAGIC:
		return true, nil
	}
	return false, nil
}
