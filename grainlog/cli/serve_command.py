"""`grainlog serve`: the yard as a page, on this machine or for the phone in the shed."""

import io
from contextlib import suppress

import click

from grainlog.cli.options import yard_option


@click.command()
@click.option("--port", type=click.IntRange(1024, 65535), default=8417, show_default=True, help="Where this machine answers.")
@click.option("--lan", is_flag=True, help="Also for devices on the home network, each paired with the code that is shown.")
@yard_option
def serve(port, lan, yard) -> None:
    """Show the yard as a page in the browser, until Ctrl-C.

    Without --lan only this machine can open it. With it, a phone is paired once by the code or the QR code; every other
    device is refused. The page is plain HTTP: use it on a network you trust.
    """
    from grainlog.web import serve as serve_page

    def ready(served) -> None:
        click.echo(f"The yard is at {served.here} (this machine only).")
        if served.lan is not None:
            import segno

            drawn = io.StringIO()
            segno.make(served.pairing_address, error="m").terminal(drawn, compact=True)
            click.echo(f"On the phone: {served.lan}/pair with the code {served.code}, good for ten minutes, or scan this:")
            with suppress(UnicodeEncodeError):
                click.echo(drawn.getvalue())
        click.echo("Ctrl-C stops it.")

    serve_page(yard, port, lan, ready)
