"""Connections that never come to a request, held open in a process of their own: run by test_strangers.py.

    python -m tests.page.strangers ADDRESS PORT COUNT

Opens COUNT connections, each as far as its number says, prints "ready", and opens every one that is closed anew until
standard input ends; then prints how many were opened in all.
"""

import resource
import select
import socket
import sys

BEGINNINGS = (
    b"",
    b"GET / HT",
    b"GET /api/state HTTP/1.1\r\nHost: x\r\nX-Long: ",
    b"POST /api/lines HTTP/1.1\r\nHost: x\r\nContent-Length: 50000\r\n\r\n{",
    b"\x16\x03\x01\x02\x00\x01\x00",
)


def main(address: str, port: int, count: int) -> None:
    """See the module's words."""
    _, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (min(hard, count + 200), hard))
    poll, held = select.poll(), dict[int, socket.socket]()

    def open_one(number: int) -> None:
        connection = socket.create_connection((address, port), timeout=10)
        connection.sendall(BEGINNINGS[number % len(BEGINNINGS)])
        held[connection.fileno()] = connection
        poll.register(connection, select.POLLIN | select.POLLHUP)

    for number in range(count):
        open_one(number)
    print("ready", flush=True)
    opened = count
    poll.register(sys.stdin, select.POLLIN | select.POLLHUP)
    while True:
        # Not all that are closed at once: a stranger who asks a hundred times a second is trouble enough.
        for descriptor, _ in poll.poll(1000)[:10]:
            if descriptor == sys.stdin.fileno():
                print(opened)
                return
            poll.unregister(descriptor)
            held.pop(descriptor).close()
            open_one(opened)
            opened += 1
        select.select([sys.stdin], [], [], 0.1)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
