"""What makes the files between clinic and home trustworthy: signing, sealing and pinning.

keys, key_file   the clinic's key pair, and its file locked with a passphrase
words            a clinic's fingerprint as words that two people can compare on the telephone
signature        the signature at the end of a prescription file
pins             the home side: which clinic a patient is paired with
sealing, senders the home side: a hand-over that only the clinic can open, and which home it comes from
archive          reading a zip that may be hostile

The folder between the two, and the door at each end of it, are `musclewood.profiles.exchange`.

A lost clinic key cannot be recovered from anything else. The clinic then makes a new key, issues every prescription
again (numbering may start over, since revisions are counted per key), and each patient imports it once as a new
clinic, after comparing the new words on the telephone. Hand-overs that were sealed to the lost key stay closed, but
nothing is lost: the home side's journal is whole, and the next hand-over is sealed to the new key.
"""
