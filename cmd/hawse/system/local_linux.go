package system

import (
	"os"

	"golang.org/x/sys/unix"
)

// OnLocalDisk says whether a file lies where no program of another machine can
// write it. A file system that is not known is none.
func OnLocalDisk(f *os.File) bool {
	var st unix.Statfs_t
	if unix.Fstatfs(int(f.Fd()), &st) != nil {
		return false
	}
	switch uint32(st.Type) { // include/uapi/linux/magic.h; the type's size differs by machine
	case unix.EXT4_SUPER_MAGIC, unix.XFS_SUPER_MAGIC, unix.BTRFS_SUPER_MAGIC, unix.F2FS_SUPER_MAGIC, unix.BCACHEFS_SUPER_MAGIC,
		unix.REISERFS_SUPER_MAGIC, unix.NILFS_SUPER_MAGIC, unix.OVERLAYFS_SUPER_MAGIC, unix.TMPFS_MAGIC, unix.RAMFS_MAGIC,
		unix.EXFAT_SUPER_MAGIC, unix.MSDOS_SUPER_MAGIC, unix.UDF_SUPER_MAGIC, unix.ISOFS_SUPER_MAGIC, unix.SQUASHFS_MAGIC:
		return true
	}
	return false
}
