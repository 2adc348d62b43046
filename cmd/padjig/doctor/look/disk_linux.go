package look

import (
	"errors"
	"fmt"
	"io/fs"
	"os/user"
	"strconv"

	"golang.org/x/sys/unix"

	"padjig/cmd/padjig/doctor"
)

// kinds are the file systems that a station meets, and whether each is one of the network.
var kinds = map[int64]struct {
	name    string
	network bool
}{
	unix.EXT4_SUPER_MAGIC: {"ext4", false}, unix.XFS_SUPER_MAGIC: {"xfs", false}, unix.BTRFS_SUPER_MAGIC: {"btrfs", false},
	unix.F2FS_SUPER_MAGIC: {"f2fs", false}, unix.TMPFS_MAGIC: {"tmpfs", false}, unix.OVERLAYFS_SUPER_MAGIC: {"overlay", false},
	unix.MSDOS_SUPER_MAGIC: {"vfat", false}, unix.FUSE_SUPER_MAGIC: {"fuse", false},
	unix.NFS_SUPER_MAGIC: {"nfs", true}, unix.SMB_SUPER_MAGIC: {"smb", true}, unix.SMB2_SUPER_MAGIC: {"smb2", true},
	unix.CIFS_SUPER_MAGIC: {"cifs", true}, unix.AFS_SUPER_MAGIC: {"afs", true}, unix.CEPH_SUPER_MAGIC: {"ceph", true},
	unix.V9FS_MAGIC: {"9p", true},
}

func diskOf(folder string) (*doctor.Disk, error) {
	var st unix.Statfs_t
	if err := unix.Statfs(folder, &st); err != nil {
		return nil, fmt.Errorf("%s: %w", folder, err)
	}
	d := &doctor.Disk{Folder: folder, Free: st.Bavail * uint64(st.Bsize), Writable: unix.Access(folder, unix.W_OK) == nil}
	kind, known := kinds[int64(st.Type)]
	if d.Kind, d.Network = kind.name, kind.network; !known {
		d.Kind = fmt.Sprintf("0x%x", st.Type)
	}
	return d, nil
}

// access is whether this user may read and write a device, and which group may.
func access(path string) (allowed bool, group string) {
	var st unix.Stat_t
	if err := unix.Stat(path, &st); err == nil {
		group = strconv.Itoa(int(st.Gid))
		if g, err := user.LookupGroupId(group); err == nil {
			group = g.Name
		}
	}
	err := unix.Access(path, unix.R_OK|unix.W_OK)
	return err == nil || !errors.Is(err, fs.ErrPermission), group
}
