"""3 Hosts."""

from planner.record import units
from planner.record.chapters.base import NOTE, Chapter, Field, Section

STATES = {"existing": "existing", "to-buy": "to buy", "spare": "spare"}
SHARING = {"local": "local to a host", "shared": "shared"}
REACHED_BY = {"iscsi": "iSCSI", "nfs": "NFS", "direct": "a cable of its own, without IP"}
RAID = {"0": "RAID 0", "1": "RAID 1", "10": "RAID 10", "5": "RAID 5", "6": "RAID 6"}
PROVISIONING = {"thick": "thick", "thin": "thin"}

HOSTS = Section(
    number="3.1", title="Machines", kind="host", slug="hosts", one="host",
    counts=("name", "sockets", "cores_per_socket", "memory_gib", "hypervisor", "address"),
    what="The machines that run the hypervisor and carry the desktops.",
    why="What fits, and what still fits when one of them is down, follows from their cores, memory and disks.",
    who="The invoice, the machine's label, or its management page.",
    fields=(
        Field("name", "Name", ledger=True, example="mill-h1"),
        Field("state", "State", "choice", choices=STATES, ledger=True),
        Field("sockets", "Sockets", "whole", low=0, high=64, ledger=True),
        Field("cores_per_socket", "Cores per socket", "whole", low=0, high=1024, ledger=True, short="Cores each"),
        Field("memory_gib", "Memory", "number", unit="GiB", units=units.MEMORY_GIB, low=0, high=1_048_576, ledger=True,
              example="96 GiB"),
        Field("network_id", "Management network", "record", to="network", ledger=True, short="Network"),
        Field("address", "Management address", "address", ledger=True, short="Address", example="10.44.1.11"),
        Field("hypervisor", "Hypervisor", ledger=True, hint="Make and version in words.", example="release 8.2"),
        Field("model", "Make and model", group="Machine", hint="In words, as on its label."),
        Field("clock_ghz", "Clock", "number", unit="GHz", low=0, high=20, group="Machine", example="2.4"),
        Field("management_name", "Management name", group="Management", hint="The DNS name its management page answers to.",
              example="mill-h1.corp.larkfield.example"),
        Field("out_of_band_address", "Out-of-band address", "address", group="Management",
              hint="Of the machine's own console, which answers when the system does not.", example="10.44.1.21"),
        Field("mac", "MAC", "mac", group="Management", example="00:00:5e:00:53:0b"),
        Field("ipv6_address", "IPv6 address", "address6", group="Management"),
        Field("network_label", "Label of the desktops' virtual network", group="Management",
              hint="Must be letter for letter the same on every host.", example="desktops-40"),
        Field("time_source", "Time source", group="Management", example="10.44.1.5"),
        Field("weight_kg", "Weight", "number", unit="kg", low=0, high=2000, group="Rack and power", example="28"),
        Field("rack_units", "Rack units", "whole", low=0, high=60, group="Rack and power", example="2"),
        Field("rated_watts", "Rated power", "number", unit="W", low=0, high=100_000, group="Rack and power", example="750"),
        NOTE,
    ),
)  # fmt: skip
DATASTORES = Section(
    number="3.2", title="Datastores", kind="datastore", slug="datastores", one="datastore",
    counts=("name", "sharing", "raid", "disks", "disk_gb", "provisioning"),
    what="Where images and the desktops' difference disks lie: disks of one host, or storage that hosts share.",
    why="A full datastore stops every desktop on it at once.",
    who="The host's storage page; the storage's own label.",
    fields=(
        Field("name", "Name", ledger=True, example="h1-local"),
        Field("sharing", "Sharing", "choice", choices=SHARING, ledger=True),
        Field("host_id", "On", "record", to="host", ledger=True, hint="Whose disks these are, when they are local."),
        Field("raid", "RAID level", "choice", choices=RAID, ledger=True, short="RAID"),
        Field("disks", "Disks", "whole", low=0, high=10_000, ledger=True, hint="With the hot spares."),
        Field("disk_gb", "Disk size", "number", unit="GB", units=units.DISK_GB, low=0, high=1_000_000, ledger=True,
              hint="As sold: decimal GB.", example="960 GB"),
        Field("provisioning", "Disks are made", "choice", choices=PROVISIONING, ledger=True, short="Made"),
        Field("reached_by", "Hosts reach it by", "choice", choices=REACHED_BY, group="Sharing",
              hint="Shared storage only: it decides which port the hosts need."),
        Field("hot_spares", "Hot spares", "whole", low=0, high=1000, group="Disks"),
        Field("disk_operations", "Random operations a disk", "number", unit="per s", low=0, high=10_000_000, group="Disks",
              hint="From the disk's data sheet.", example="75"),
        Field("throughput_mb_s", "Throughput", "number", unit="MB/s", low=0, high=1_000_000, group="Disks", example="500"),
        Field("others_gib", "Space others use", "number", unit="GiB", units=units.DISK_GIB, low=0, high=100_000_000,
              group="Disks", hint="What lies there already and stays."),
        NOTE,
    ),
)  # fmt: skip
CHAPTER = Chapter(3, "hosts", "Hosts", "The machines that carry the desktops, and where their disks are.", (HOSTS, DATASTORES))
