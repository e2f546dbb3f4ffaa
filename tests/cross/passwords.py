"""The hash of a password by the reference implementation of argon2 in C, as argon2-cffi 25.1.0 brings it.

    pip install argon2-cffi==25.1.0
    python passwords.py > passwords.txt
"""

from argon2.low_level import Type, hash_secret

PASSWORD = "Mörser und Stößel 12"
SALT = bytes(range(16))

print(hash_secret(PASSWORD.encode(), SALT, time_cost=2, memory_cost=19456, parallelism=1, hash_len=32, type=Type.ID).decode())
