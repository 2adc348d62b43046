package plant

// padjig plant key: by what a plant's notices are signed and believed.

import (
	"crypto/ed25519"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/object"
	"padjig/results/plant/notice"
)

func newKey() *cobra.Command {
	var store string
	var show, asJSON bool
	cmd := &cobra.Command{
		Use:   "key FILE | key --show",
		Short: "Make the key that signs what the plant decides, or show the public ones",
		Long: `Makes a private key (Ed25519) in a new file that its owner alone may read, and
prints the public key with its fingerprint. What is printed is the file for
padjig station --plant-key; who takes it to a station compares the fingerprint.
Whoever has the private key decides for every station: it stays at the office,
with a copy on a medium that is locked away. A file that is there is left alone.

With --show it prints the public keys by which the notices in the records are
signed, in the order in which they came into force.`,
		Example: `  padjig plant key office.key > plant.pub
  padjig plant key --show --store office.sqlite > plant.pub`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if show == (len(args) == 1) {
				return command.WrongUsef("say a new file for a private key, or --show for the public keys of records")
			}
			if show {
				return showKeys(cmd, store, asJSON)
			}
			key, err := makeKey(args[0])
			if err != nil {
				return err
			}
			return printKeys(cmd, []ed25519.PublicKey{notice.PublicOf(key)}, asJSON)
		},
	}
	cmd.Flags().BoolVar(&show, "show", false, "print the public keys that the notices in the records are signed by")
	command.JSONFlag(cmd, &asJSON)
	command.StoreFlag(cmd, &store)
	return cmd
}

func showKeys(cmd *cobra.Command, path string, asJSON bool) error {
	s, err := command.ReadStore(cmd.Context(), path)
	if err != nil {
		return err
	}
	defer s.Close()
	_, keys, err := s.Notices.Plant(cmd.Context())
	if err != nil {
		return issuing(s, err)
	}
	return printKeys(cmd, keys, asJSON)
}

const ownerAlone = 0o600

// makeKey makes a private key in a new file.
func makeKey(path string) (ed25519.PrivateKey, error) {
	key, err := notice.NewKey()
	if err != nil {
		return nil, err
	}
	text, err := notice.PrivatePEM(key)
	if err != nil {
		return nil, err
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, ownerAlone)
	if errors.Is(err, fs.ErrExist) {
		return nil, command.Fail(command.Wrong, fmt.Errorf("%s is there already, and is left as it is: a key that is lost cannot be made again", path), "the name of a file that is not there")
	}
	if err != nil {
		return nil, command.Fail(command.Wrong, err, "a folder that may be written")
	}
	_, err = f.Write(text)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return nil, command.Fail(command.Wrong, err, "a folder that may be written")
	}
	return key, nil
}

func printKeys(cmd *cobra.Command, keys []ed25519.PublicKey, asJSON bool) error {
	out := object.PlantKey{Plant: notice.FingerprintOf(keys[0]).String()}
	for _, key := range keys {
		text, err := notice.PublicPEM(key)
		if err != nil {
			return err
		}
		out.Keys = append(out.Keys, object.PublicKey{Fingerprint: notice.FingerprintOf(key).String(), PEM: string(text)})
	}
	if asJSON {
		return object.Print(cmd.OutOrStdout(), out)
	}
	for _, key := range out.Keys {
		fmt.Fprintf(cmd.OutOrStdout(), "fingerprint %s\n%s", key.Fingerprint, key.PEM)
	}
	return nil
}

// privateKey reads the file of a private key, which nobody else may read.
func privateKey(flag, path string) (ed25519.PrivateKey, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, command.Fail(command.Wrong, fmt.Errorf("--%s: %w", flag, err), "the file that padjig plant key made")
	}
	if readByOthers(info.Mode()) {
		return nil, command.Fail(command.Wrong, fmt.Errorf("--%s %s: others on this computer may read it (%v)", flag, path, info.Mode().Perm()), "chmod 600 "+path)
	}
	text, err := os.ReadFile(path)
	if err == nil {
		var key ed25519.PrivateKey
		if key, err = notice.ReadPrivate(text); err == nil {
			return key, nil
		}
	}
	return nil, command.Fail(command.Wrong, fmt.Errorf("--%s %s: %w", flag, path, err), "the file that padjig plant key made")
}
